/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/jobs/session_told.h"

#include <string.h>

#include "adapters/store/find_record.h"
#include "core/talk/reading.h"

/* What became of a number that may be pain. */
typedef enum { BARE_NOT, BARE_OPEN, BARE_SETTLED } Bare;

static bool is_ambiguous(const Row *reply)
{
    const char *text = row_text(reply, REPLY_R_READING);
    json_t *reading = text != NULL ? json_loads(text, 0, NULL) : NULL;
    bool ambiguous = json_is_true(json_object_get(reading, "ambiguous_high"));

    json_decref(reading);
    return ambiguous;
}

/* What a person wrote down or settled says which number is which. */
static Bare bare_of(Job *job, const Row *report)
{
    const char *id = row_text(report, REPORT_REPLY);

    if (row_is_null(report, REPORT_INTENSITY) || !row_is_null(report, REPORT_PAIN) ||
        row_real(report, REPORT_INTENSITY) < READ_BARE_LEAST || id == NULL ||
        g_strcmp0(row_text(report, REPORT_BY), "client") != 0)
        return BARE_NOT;
    g_autoptr(Row) reply = tx_get_text(job->tx, TABLE_REPLY, id);
    if (reply == NULL || !is_ambiguous(reply)) return BARE_NOT;
    return row_is_null(reply, REPLY_S_READING) ? BARE_OPEN : BARE_SETTLED;
}

bool report_was_bare(Job *job, const Row *report)
{
    return bare_of(job, report) == BARE_OPEN;
}

static void take_stretch(SessionTold *told, double value)
{
    told->stretch = value;
    if (value == told->bare) told->bare = 0;
}

static void take_pain(SessionTold *told, const char *pain, bool with_stretch)
{
    told->pain_some = strcmp(pain, "some") == 0;
    told->pain = told->pain_some ? -1 : g_ascii_strtod(pain, NULL);
    if (told->pain_some) return;
    /* Another number than the pain was the stretch. */
    if (told->bare > 0 && told->pain != told->bare && !with_stretch) told->stretch = told->bare;
    told->bare = 0;
}

static void take(Job *job, SessionTold *told, const Row *report)
{
    Bare bare = bare_of(job, report);
    const char *pain = row_text(report, REPORT_PAIN);
    bool with_stretch = bare == BARE_NOT && !row_is_null(report, REPORT_INTENSITY);

    if (with_stretch) take_stretch(told, row_real(report, REPORT_INTENSITY));
    if (bare == BARE_OPEN) told->bare = MAX(told->bare, row_real(report, REPORT_INTENSITY));
    if (pain != NULL) take_pain(told, pain, with_stretch);
    told->intensity = told->bare > 0 ? told->bare : told->stretch;
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
