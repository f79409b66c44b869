/* SPDX-License-Identifier: Apache-2.0 */
/* The course of one client: sessions, reports, adherence. */
#include <string.h>

#include "adapters/store/find.h"
#include "adapters/store/find_record.h"
#include "adapters/store/find_work.h"
#include "core/ledger/id.h"
#include "core/watch/adherence.h"
#include "daemon/cli/cli.h"
#include "daemon/control/handlers.h"
#include "daemon/control/told_session.h"
#include "daemon/jobs/checkin.h"
#include "daemon/jobs/reply.h"

#define DAYS_MOST 366
#define WORDS_CHARS 4000

static json_t *row_json(const Row *row)
{
    return json_pack(
        "{s:s, s:s, s:I, s:o, s:o, s:o, s:o, s:s}", "session", row_text(row, SESSION_ID), "date",
        row_text(row, SESSION_DATE), "slot", (json_int_t)row_int(row, SESSION_SLOT), "local",
        json_text_or_null(row_text(row, SESSION_LOCAL)), "zone",
        json_text_or_null(row_text(row, SESSION_ZONE)), "utc",
        json_instant(row_int(row, SESSION_UTC)), "stage",
        json_text_or_null(row_text(row, SESSION_STAGE)), "state", row_text(row, SESSION_STATE));
}

static json_t *planned_json(const Person *person, const SessionInstant *instant)
{
    g_autofree char *date = day_format(instant->date);
    g_autofree char *local = local_format(instant->local);
    g_autofree char *id = id_session(person->id, date, instant->slot);

    return json_pack("{s:s, s:s, s:i, s:s, s:s, s:o, s:s?, s:s}", "session", id, "date", date,
                     "slot", instant->slot, "local", local, "zone", person->zone, "utc",
                     json_instant(instant->ms), "stage", person->stage, "state", "planned");
}

static const Row *row_of(const GPtrArray *rows, const SessionInstant *instant)
{
    g_autofree char *date = day_format(instant->date);

    for (guint i = 0; i < rows->len; i++)
        if (strcmp(row_text(rows->pdata[i], SESSION_DATE), date) == 0 &&
            row_int(rows->pdata[i], SESSION_SLOT) == instant->slot)
            return rows->pdata[i];
    return NULL;
}

static int by_time(const void *a, const void *b)
{
    const json_t *left = *(json_t *const *)a;
    const json_t *right = *(json_t *const *)b;
    int order = strcmp(json_string_value(json_object_get(left, "date")),
                       json_string_value(json_object_get(right, "date")));

    if (order != 0) return order;
    return (int)(json_integer_value(json_object_get(left, "slot")) -
                 json_integer_value(json_object_get(right, "slot")));
}

static json_t *sorted(GPtrArray *documents)
{
    json_t *list = json_array();

    if (documents->len > 1)
        qsort(documents->pdata, documents->len, sizeof documents->pdata[0], by_time);
    for (guint i = 0; i < documents->len; i++)
        json_array_append_new(list, documents->pdata[i]);
    return list;
}

/* Does the session of a client without text or mail still wait for somebody's call? */
static bool waits_for_call(Job *job, const Person *person, const SessionInstant *instant)
{
    g_autofree char *date = day_format(instant->date);
    g_autofree char *session = id_session(person->id, date, instant->slot);

    return due_is_set(job->tx, "call", session);
}

/* What happened, by the rows; what is to come, by the plan. */
bool handle_sessions(Job *job, Call *call)
{
    g_autoptr(Person) person = call_person(job, call);
    g_autoptr(GPtrArray) documents = g_ptr_array_new();
    g_autoptr(GArray) planned = g_array_new(FALSE, FALSE, sizeof(SessionInstant));
    double days = 7;
    Day from;
    bool there;

    if (person == NULL || !call_day(call, "from", &from, &there)) return false;
    if (!there) from = zone_local(person_zone(job, person), job->now_ms).day;
    if (!call_number(call, "days", 1, DAYS_MOST, &days, &there)) return false;
    g_autofree char *first = day_format(from);
    g_autofree char *last = day_format(from + (Day)days - 1);
    g_autoptr(GPtrArray) rows = find_sessions(job->tx, person->id, first, last);
    for (guint i = 0; i < rows->len; i++)
        g_ptr_array_add(documents, row_json(rows->pdata[i]));
    if (person_has_plan(person))
        sessions_on(&person->times, person_zone(job, person), from, (int)days, planned);
    for (guint i = 0; i < planned->len; i++) {
        const SessionInstant *instant = &g_array_index(planned, SessionInstant, i);
        if (row_of(rows, instant) == NULL &&
            (instant->ms >= job->now_ms || waits_for_call(job, person, instant)))
            g_ptr_array_add(documents, planned_json(person, instant));
    }
    return call_ok(call, sorted(documents));
}

/* What the options say, as a reading. NULL after answering. */
static Reading *given_reading(Call *call)
{
    static const char *const DONE[] = {
        [DONE_YES] = "yes", [DONE_PARTLY] = "partly", [DONE_NO] = "no"};
    g_autoptr(Reading) reading = g_new0(Reading, 1);
    const char *done =
        call_need(call, "done", "--done yes|partly|no, or --words \"what was said\"");
    bool there;

    if (done == NULL) return NULL;
    for (ReadDone i = DONE_YES; i <= DONE_NO; i++)
        if (strcmp(done, DONE[i]) == 0) reading->done = i;
    if (reading->done == DONE_UNSAID) {
        call_fail(call, EXIT_USE, "done", done, "must be one of yes, partly, no");
        return NULL;
    }
    if (!call_number(call, "intensity", 0, 10, &reading->intensity, &there)) return NULL;
    if (!there) reading->intensity = -1;
    if (g_strcmp0(call_text(call, "pain"), "some") == 0) {
        reading->pain_kind = PAIN_SOME;
        return g_steal_pointer(&reading);
    }
    if (!call_number(call, "pain", 0, 10, &reading->pain, &there)) return NULL;
    reading->pain_kind = there ? PAIN_NUMBER : PAIN_UNSAID;
    return g_steal_pointer(&reading);
}

bool handle_report(Job *job, Call *call)
{
    g_autoptr(Person) person = call_person(job, call);
    const char *by = person != NULL ? call_by(call, "--by NAME") : NULL;
    const char *words = call_text(call, "words");
    SessionInstant instant;
    bool planned;

    if (by == NULL || (words != NULL && !call_words(call, "words", words, WORDS_CHARS)))
        return false;
    g_autofree char *session = told_session(job, call, person, &instant, &planned);
    if (session == NULL) return false;
    const char *unsure;
    g_autoptr(Reading) reading = words != NULL
                                     ? checkin_read(job, person, words, NULL, job->now_ms, &unsure)
                                     : given_reading(call);
    if (reading == NULL) return false;
    g_autofree char *purpose = g_strdup_printf("%" G_GINT64_FORMAT, job->now_ms);
    g_autofree char *id =
        id_of("report", person->id, session, by, words != NULL ? words : "", purpose, NULL);
    ReplyCase about = {.reply = id,
                       .session = session,
                       .instant = planned ? &instant : NULL,
                       .channel = CHANNEL_PHONE,
                       .by = by,
                       .words = words};
    if (words != NULL && reading->command == COMMAND_STOP) reply_stop(job, person, id, by);
    if (words != NULL) reply_bar(job, person, reading, id, CHANNEL_PHONE);
    checkin_record(job, person, reading, id, by);
    reply_act(job, person, reading, &about);
    return call_ok(call, json_pack("{s:s, s:s, s:o}", "client", person->id, "session", session,
                                   "reading", reading_json(reading)));
}

bool handle_adherence(Job *job, Call *call)
{
    g_autoptr(Person) person = call_person(job, call);
    Day from;
    Day to;
    bool has_from;
    bool has_to;

    if (person == NULL || !call_day(call, "from", &from, &has_from) ||
        !call_day(call, "to", &to, &has_to))
        return false;
    Day today = zone_local(person_zone(job, person), job->now_ms).day;
    if (!has_to) to = today;
    if (!has_from) from = to - 27;
    if (from > to)
        return call_fail(call, EXIT_DATA, "from", call_text(call, "from"), "lies after --to");
    g_autofree char *first = day_format(from);
    g_autofree char *last = day_format(to);
    g_autoptr(GPtrArray) rows = find_sessions(job->tx, person->id, first, last);
    SessionCounts counts = {0};
    for (guint i = 0; i < rows->len; i++)
        session_count(&counts, row_text(rows->pdata[i], SESSION_STATE));
    Adherence adherence = adherence_of(counts);
    return call_ok(call, adherence_json(&adherence));
}
