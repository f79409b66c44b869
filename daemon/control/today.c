/* SPDX-License-Identifier: Apache-2.0 */
/* The day of the whole clinic on one screen: whom to call first, what was asked and answered, what is
 * still to come, what waits for a person. Bounded, however large the clinic. */
#include <string.h>

#include "adapters/store/find_day.h"
#include "adapters/store/find_record.h"
#include "daemon/control/handlers.h"
#include "daemon/jobs/session_told.h"

#define SESSIONS_MOST 80
#define COMING_MOST 40
#define CALLS_MOST 60

static void add_count(const char *state, int count, void *context)
{
    json_object_set_new(context, state, json_integer(count));
}

/* What was told of the sessions of one client, by client: each is looked up once, and only of whom something was told. */
typedef struct {
    GHashTable *clients; /* of GHashTable, as session_told_load makes them */
    Day from;
} DayTold;

static SessionTold told_of(Job *job, DayTold *told, const DaySession *session)
{
    if (!session->reported) return SESSION_UNTOLD;
    GHashTable *of = g_hash_table_lookup(told->clients, session->client);
    if (of == NULL) {
        of = session_told_load(job, session->client, told->from);
        g_hash_table_insert(told->clients, g_strdup(session->client), of);
    }
    return session_told_of(of, session->session);
}

static json_t *session_json(Job *job, DayTold *told, const DaySession *session)
{
    g_autofree char *local = session->local != NULL
                                 ? g_strdup(session->local)
                                 : local_format(zone_local(job_clinic_zone(job), session->utc_ms));

    json_t *document =
        json_pack("{s:s, s:o, s:o, s:s, s:s, s:s, s:o}", "client", session->client, "name",
                  json_parsed(session->name), "session", json_text_or_null(session->session),
                  "local", local, "zone", session->zone != NULL ? session->zone : job->clinic->zone,
                  "state", session->state, "utc", json_instant(session->utc_ms));

    session_told_put(told_of(job, told, session), document);
    return document;
}

/* Sessions of a day that begins at from_ms, or later. */
static json_t *sessions_json(Job *job, const GPtrArray *sessions, int64_t from_ms)
{
    g_autoptr(GHashTable) clients =
        g_hash_table_new_full(g_str_hash, g_str_equal, g_free, (GDestroyNotify)g_hash_table_unref);
    DayTold told = {.clients = clients, .from = (Day)divide_down(from_ms, DAY_MS)};
    json_t *list = json_array();

    for (guint i = 0; i < sessions->len; i++)
        json_array_append_new(list, session_json(job, &told, sessions->pdata[i]));
    return list;
}

/* Matters of the clinic itself: nobody to ring, but somebody must act. */
static json_t *clinic_matters(Job *job)
{
    g_autoptr(GPtrArray) alerts = find_alerts(job->tx, "clinic", false);
    json_t *list = json_array();

    for (guint i = 0; i < alerts->len; i++)
        json_array_append_new(list, alert_json(alerts->pdata[i]));
    return list;
}

bool handle_today(Job *job, Call *call)
{
    GTimeZone *zone = job_clinic_zone(job);
    Day today = zone_local(zone, job->now_ms).day;
    int64_t from_ms = zone_instant(zone, (LocalTime){.day = today}, NULL);
    int64_t to_ms = zone_instant(zone, (LocalTime){.day = today + 1}, NULL);
    g_autoptr(GPtrArray) sessions = find_day_sessions(job->tx, from_ms, to_ms, SESSIONS_MOST);
    g_autoptr(GPtrArray) coming = find_day_coming(job->tx, to_ms, COMING_MOST);
    g_autoptr(GPtrArray) unread = find_replies(job->tx, NULL, "unread", 0);
    g_autoptr(GPtrArray) glance = find_glance(job->tx);
    g_autofree char *date = day_format(today);
    json_t *counts = json_object();
    json_t *calls = calls_json(job, CALLS_MOST);

    find_day_counts(job->tx, from_ms, to_ms, add_count, counts);
    json_object_set_new(counts, "coming", json_integer(find_day_coming_count(job->tx, to_ms)));
    return call_ok(call,
                   json_pack("{s:s, s:s, s:o, s:o, s:o, s:o, s:o, s:o, s:I, s:I, s:b}", "date",
                             date, "zone", job->clinic->zone, "now", json_instant(job->now_ms),
                             "counts", counts, "sessions", sessions_json(job, sessions, from_ms),
                             "coming", sessions_json(job, coming, from_ms), "calls", calls,
                             "clinic", clinic_matters(job), "unread", (json_int_t)unread->len,
                             "glance", (json_int_t)glance->len, "made_up_clock", job->made_up));
}
