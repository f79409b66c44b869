/* SPDX-License-Identifier: Apache-2.0 */
/* Alerts: listed, opened by a person, taken, closed. */
#include <string.h>

#include "adapters/store/find_people.h"
#include "adapters/store/find_record.h"
#include "core/ledger/id.h"
#include "daemon/cli/cli.h"
#include "daemon/control/handlers.h"
#include "daemon/jobs/alert.h"
#include "daemon/jobs/reply.h"

#define KIND_CHARS 40
#define WORDS_CHARS 2000

static json_t *instant_or_null(const Row *row, int column)
{
    return row_is_null(row, column) ? json_null() : json_instant(row_int(row, column));
}

json_t *alert_json(const Row *alert)
{
    const char *client = row_text(alert, ALERT_CLIENT);

    return json_pack(
        "{s:s, s:s, s:o, s:o, s:s, s:s, s:s, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:o, s:I}", "alert",
        row_text(alert, ALERT_ID), "code", row_text(alert, ALERT_CODE), "at",
        json_instant(row_int(alert, ALERT_AT)), "client",
        json_text_or_null(g_strcmp0(client, "clinic") == 0 ? NULL : client), "kind",
        row_text(alert, ALERT_KIND), "class", row_text(alert, ALERT_CLASS), "state",
        row_text(alert, ALERT_STATE), "reasons", json_parsed(row_text(alert, ALERT_REASONS)),
        "cause", json_text_or_null(row_text(alert, ALERT_CAUSE)), "taken_by",
        json_text_or_null(row_text(alert, ALERT_TAKEN_BY)), "taken_at",
        instant_or_null(alert, ALERT_TAKEN_AT), "closed_by",
        json_text_or_null(row_text(alert, ALERT_CLOSED_BY)), "closed_at",
        instant_or_null(alert, ALERT_CLOSED_AT), "outcome",
        json_text_or_null(row_text(alert, ALERT_OUTCOME)), "note",
        json_text_or_null(row_text(alert, ALERT_NOTE)), "passed",
        (json_int_t)row_int(alert, ALERT_PASSED));
}

/* An alert for people: who it is about, and when it was on the clinic's clock. */
static json_t *told_json(Job *job, const Row *alert)
{
    json_t *document = alert_json(alert);

    g_autoptr(Person) person = person_load(job, row_text(alert, ALERT_CLIENT));

    json_object_set_new(document, "name", json_text_or_null(person != NULL ? person->name : NULL));
    json_object_set_new(document, "needs",
                        json_text_or_null(person != NULL ? person->needs : NULL));
    json_object_set_new(document, "local", json_local(job, row_int(alert, ALERT_AT)));
    return document;
}

bool handle_alert_list(Job *job, Call *call)
{
    const char *given = call_text(call, "all");
    bool all = json_is_true(json_object_get(call->body, "all")) || g_strcmp0(given, "1") == 0 ||
               g_strcmp0(given, "true") == 0;
    g_autoptr(GPtrArray) rows = find_alerts(job->tx, NULL, all);
    json_t *list = json_array();

    for (guint i = 0; i < rows->len; i++)
        json_array_append_new(list, told_json(job, rows->pdata[i]));
    return call_ok(call, list);
}

static bool answer_alert(Job *job, Call *call, const char *id)
{
    g_autoptr(Row) row = tx_get_text(job->tx, TABLE_ALERT, id);

    return row != NULL ? call_ok(call, told_json(job, row)) : call_lost(job);
}

/* An alert by the code that clinicians read, which is unambiguous among those not closed; else by its id. */
static char *alert_id(Job *job, Call *call)
{
    g_autoptr(GPtrArray) open = find_alerts(job->tx, NULL, false);

    for (guint i = 0; i < open->len; i++)
        if (g_ascii_strcasecmp(row_text(open->pdata[i], ALERT_CODE), call->id[0]) == 0)
            return g_strdup(row_text(open->pdata[i], ALERT_ID));
    return call_id(job, call, TABLE_ALERT, "alert", call->id[0]);
}

static void note_client(Job *job, Call *call, const char *id)
{
    g_autoptr(Row) alert = tx_get_text(job->tx, TABLE_ALERT, id);
    const char *client = alert != NULL ? row_text(alert, ALERT_CLIENT) : NULL;

    g_free(call->about);
    call->about = g_strcmp0(client, "clinic") != 0 ? g_strdup(client) : NULL;
}

/* Whoever closes an alert lifts its hold, which only a clinician may. */
static bool may_close(Job *job, Call *call, const char *id)
{
    g_autoptr(GPtrArray) bars =
        call->about != NULL ? find_bars(job->tx, call->about) : g_ptr_array_new();

    for (guint i = 0; i < bars->len; i++)
        if (g_strcmp0(row_text(bars->pdata[i], BAR_KIND), "hold") == 0 &&
            g_strcmp0(row_text(bars->pdata[i], BAR_CAUSE), id) == 0)
            return call_clinician(call, "closing an alert that holds a client");
    return g_strcmp0(call_text(call, "outcome"), "resume") == 0 ||
           call_clinician(call, "an outcome other than resume");
}

bool handle_alert_take(Job *job, Call *call)
{
    const char *by = call_by(call, "--by NAME");
    g_autofree char *id = by != NULL ? alert_id(job, call) : NULL;

    if (id == NULL) return false;
    note_client(job, call, id);
    if (!alert_take(job, id, by, call->page ? "page" : "command"))
        return call_fail(call, EXIT_DATA, "alert", call->id[0], "is closed, or taken by %s already",
                         by);
    return answer_alert(job, call, id);
}

bool handle_alert_close(Job *job, Call *call)
{
    const char *by = call_by(call, "--by NAME");
    const char *outcome =
        by != NULL ? call_need(call, "outcome", "--outcome resume|step-back|refer|end") : NULL;
    g_autofree char *id = outcome != NULL ? alert_id(job, call) : NULL;
    const char *note = call_text(call, "note");
    const char *why;

    if (id == NULL || (note != NULL && !call_words(call, "note", note, WORDS_CHARS))) return false;
    note_client(job, call, id);
    if (!may_close(job, call, id)) return false;
    if (!alert_close(job, id, outcome, by, note, &why))
        return call_fail(call, EXIT_DATA, "alert", call->id[0], "%s", why);
    return answer_alert(job, call, id);
}

/* Which class a kind that a person names has: ALERT_NONE where it is none. A kind that was mistyped must not pass for a
 * lesser one: nobody would be called at night. */
static AlertClass class_of_kind(const char *kind)
{
    for (ReadWarning warning = WARNING_CRISIS; warning <= WARNING_FALL; warning++)
        if (strcmp(kind, read_warning_name(warning)) == 0) return warning_class(warning);
    if (strcmp(kind, "strong-stretch") == 0) return ALERT_FOR_DIGEST;
    return strcmp(kind, "pain") == 0 || strcmp(kind, "other") == 0 ? ALERT_TODAY : ALERT_NONE;
}

bool handle_alert_open(Job *job, Call *call)
{
    const char *kind = call_need(call, "kind", "--kind fall|pain|clot|...");
    const char *words =
        kind != NULL ? call_need(call, "words", "--words TEXT, what was said or seen") : NULL;
    const char *by = words != NULL ? call_by(call, "--by NAME") : NULL;

    if (by == NULL || !call_words(call, "kind", kind, KIND_CHARS) ||
        !call_words(call, "words", words, WORDS_CHARS))
        return false;
    g_autoptr(Person) person = call_person(job, call);
    if (person == NULL) return false;
    AlertClass class = class_of_kind(kind);
    if (class == ALERT_NONE)
        return call_fail(
            call, EXIT_DATA, "kind", kind,
            "must be one of crisis, heart, stroke, cauda, clot, fracture, nerve, fall, pain, "
            "strong-stretch, other");
    g_autofree char *at = g_strdup_printf("%" G_GINT64_FORMAT, job->now_ms);
    g_autofree char *cause = id_of("opened", person->id, kind, at, NULL);
    json_t *reasons = json_array();
    json_array_append_new(reasons, reason_words("opened by", by, words));
    g_autofree char *id = alert_open(job, person,
                                     &(Opening){.kind = kind,
                                                .class = class,
                                                .hold = class != ALERT_FOR_DIGEST,
                                                .cause = cause,
                                                .reasons = reasons});
    json_decref(reasons);
    return answer_alert(job, call, id);
}
