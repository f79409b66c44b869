/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/jobs/feed.h"

#include <stdlib.h>
#include <string.h>

#include "adapters/page/password.h"
#include "adapters/store/find_access.h"
#include "core/calendar/date.h"
#include "daemon/jobs/calendar.h"

#define UID_CHARS 24

/* The token's place in the meta table (g_free). */
static char *place_of(const char *token)
{
    g_autofree char *hash = token_hash(token);

    return g_strconcat("feed.", hash, NULL);
}

char *feed_make(Job *job, const Person *person, const char *by)
{
    char *token = token_new();
    g_autofree char *place = place_of(token);
    g_autofree char *at = instant_format(job->now_ms);
    json_t *about = json_pack("{s:s, s:s, s:s}", "client", person->id, "at", at, "by", by);
    char *text = json_dumps(about, JSON_COMPACT);

    feed_revoke(job, person->id);
    tx_set_meta(job->tx, place, text);
    free(text);
    json_decref(about);
    return token;
}

int feed_revoke(Job *job, const char *client)
{
    g_autoptr(GPtrArray) ids = tx_all_of(job->tx, client);
    int dropped = 0;

    for (guint i = 0; i < ids->len; i++)
        dropped += feeds_drop(job->tx, ids->pdata[i]);
    return dropped;
}

char *feed_url(const Clinic *clinic, const char *token)
{
    if (clinic->page_url == NULL) return NULL;
    return g_strdup_printf("%s/calendar/%s.ics", clinic->page_url, token);
}

char *feed_file(Job *job, const char *token)
{
    g_autofree char *place = place_of(token);
    g_autofree char *text = tx_meta(job->tx, place);
    json_t *about = text != NULL ? json_loads(text, 0, NULL) : NULL;
    g_autoptr(Person) person =
        person_load(job, json_string_value(json_object_get(about, "client")));

    json_decref(about);
    if (person == NULL) return NULL;
    g_autofree char *uid = g_strndup(place + strlen("feed."), UID_CHARS);
    g_autofree char *url = feed_url(job->clinic, token);
    return calendar_for_feed(job, person, uid, url);
}
