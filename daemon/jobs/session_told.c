/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/jobs/session_told.h"

#include <string.h>

#include "adapters/store/find_record.h"
#include "core/talk/reading.h"

bool report_was_bare(Job *job, const Row *report)
{
    if (row_real(report, REPORT_INTENSITY) < READ_BARE_LEAST) return false;
    const char *id = row_text(report, REPORT_REPLY);
    g_autoptr(Row) reply = id != NULL ? tx_get_text(job->tx, TABLE_REPLY, id) : NULL;
    const char *text = reply != NULL ? row_text(reply, REPLY_READING) : NULL;
    json_t *reading = text != NULL ? json_loads(text, 0, NULL) : NULL;
    bool bare = json_is_true(json_object_get(reading, "ambiguous_high"));

    json_decref(reading);
    return bare;
}

static void take(Job *job, SessionTold *told, const Row *report)
{
    const char *pain = row_text(report, REPORT_PAIN);

    if (!row_is_null(report, REPORT_INTENSITY)) {
        told->intensity = row_real(report, REPORT_INTENSITY);
        told->bare = pain == NULL && report_was_bare(job, report) ? told->intensity : 0;
    }
    if (pain == NULL) return;
    told->pain_some = strcmp(pain, "some") == 0;
    told->pain = told->pain_some ? -1 : g_ascii_strtod(pain, NULL);
    /* The bare number was the pain all along. */
    if (row_is_null(report, REPORT_INTENSITY) && told->bare > 0 && told->pain == told->bare)
        told->intensity = -1;
    told->bare = 0;
}

GHashTable *session_told_load(Job *job, const char *client, Day from)
{
    GHashTable *all = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, g_free);
    /* The day before, for a local date may begin then. */
    g_autoptr(GPtrArray) reports =
        find_reports(job->tx, client, (from - 1) * DAY_MS, job->now_ms + 1);

    for (guint i = 0; i < reports->len; i++) {
        const Row *report = reports->pdata[i];
        const char *session = row_text(report, REPORT_SESSION);
        if (session == NULL) continue;
        SessionTold *told = g_hash_table_lookup(all, session);
        if (told == NULL) {
            told = g_new0(SessionTold, 1);
            *told = SESSION_UNTOLD;
            g_hash_table_insert(all, g_strdup(session), told);
        }
        take(job, told, report);
    }
    return all;
}

SessionTold session_told_of(GHashTable *told, const char *session)
{
    const SessionTold *found = g_hash_table_lookup(told, session);

    return found != NULL ? *found : SESSION_UNTOLD;
}

void session_told_put(SessionTold told, json_t *document)
{
    g_autofree char *pain = told.pain >= 0 ? g_strdup_printf("%g", told.pain) : NULL;
    const char *text = told.pain_some ? "some" : pain;

    json_object_set_new(document, "intensity",
                        told.intensity >= 0 ? json_real(told.intensity) : json_null());
    json_object_set_new(document, "pain", text != NULL ? json_string(text) : json_null());
    json_object_set_new(document, "bare", json_boolean(told.bare > 0));
}
