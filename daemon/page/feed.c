/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/page/feed.h"

#include <string.h>

#include "adapters/page/password.h"
#include "daemon/jobs/feed.h"
#include "daemon/page/door.h"
#include "daemon/page/meter.h"

#define BEFORE "/calendar/"
#define AFTER ".ics"
#define TOKEN_CHARS_MAX 64

/* Calendar programs ask a few times an hour; someone who sets one up asks a few times in a minute. */
static const MeterRate ONE = {.burst = 10, .each_ms = 60 * 1000};
static const MeterRate ALL = {.burst = 60, .each_ms = 100};

struct Feed {
    uv_loop_t *loop;
    Daemon *daemon;
    Meter *meter;
};

typedef struct {
    ServeRequest *request;
    char *token;
    char *file;
} Fetch;

Feed *feed_new(uv_loop_t *loop, Daemon *daemon)
{
    Feed *feed = g_new0(Feed, 1);

    *feed = (Feed){loop, daemon, meter_new()};
    return feed;
}

void feed_free(Feed *feed)
{
    if (feed == NULL) return;
    meter_free(feed->meter);
    g_free(feed);
}

/* The token that the path names (g_free), or NULL where it is no calendar's. */
static char *token_of(const char *path)
{
    if (!g_str_has_prefix(path, BEFORE) || !g_str_has_suffix(path, AFTER)) return NULL;
    const char *token = path + strlen(BEFORE);
    size_t length = strlen(token) - MIN(strlen(token), strlen(AFTER));
    return length > 0 && length <= TOKEN_CHARS_MAX ? g_strndup(token, length) : g_strdup("");
}

static bool fetch_job(Job *job, void *context)
{
    Fetch *fetch = context;

    g_free(fetch->file);
    fetch->file = feed_file(job, fetch->token);
    return true;
}

static void refuse_unknown(ServeRequest *request)
{
    door_refuse(request, 404, "calendar", "there is none under this link");
}

static void fetched(StoreStatus status, void *context)
{
    Fetch *fetch = context;

    if (!desk_has_read(status))
        door_refuse(fetch->request, 503, "calendar", "cannot be read now; try again later");
    else if (fetch->file == NULL)
        refuse_unknown(fetch->request);
    else
        serve_answer(fetch->request, 200, "text/calendar; charset=utf-8", NULL,
                     g_bytes_new(fetch->file, strlen(fetch->file)));
    g_free(fetch->token);
    g_free(fetch->file);
    g_free(fetch);
}

bool feed_answer(Feed *feed, ServeRequest *request)
{
    static const char *const LATER[] = {"Retry-After: 60", NULL};
    g_autofree char *token = token_of(serve_path(request));
    int64_t now_ms = (int64_t)uv_now(feed->loop);

    if (token == NULL) return false;
    g_autofree char *hash = token_hash(token);
    if (!meter_take(feed->meter, "", &ALL, now_ms) ||
        !meter_take(feed->meter, hash, &ONE, now_ms)) {
        serve_also(request, LATER);
        door_refuse(request, 429, "calendar", "is asked for too often");
    } else if (*token == '\0') {
        refuse_unknown(request);
    } else {
        Fetch *fetch = g_new0(Fetch, 1);
        *fetch = (Fetch){.request = request, .token = g_steal_pointer(&token)};
        desk_read(daemon_desk(feed->daemon), fetch_job, fetched, fetch);
    }
    return true;
}
