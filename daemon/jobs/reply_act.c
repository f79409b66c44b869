/* SPDX-License-Identifier: Apache-2.0 */
#include <math.h>
#include <string.h>

#include "adapters/store/find_people.h"
#include "adapters/store/find_record.h"
#include "adapters/store/find_work.h"
#include "core/watch/duty.h"
#include "daemon/jobs/alert.h"
#include "daemon/jobs/post.h"
#include "daemon/jobs/reply.h"
#include "daemon/jobs/reply_ask.h"
#include "daemon/jobs/schedule.h"
#include "daemon/jobs/unsubscribe.h"
#include "daemon/jobs/words.h"

#define CODE_DIGITS 4

static void answer_key(Job *job, const Person *person, const ReplyCase *about, Answer what,
                       const char *key)
{
    Worded words;

    words_key(job, person, about->channel, key, &words);
    reply_say(job, person, about, what, &words);
    worded_clear(&words);
}

/* --- reports --- */

static json_t *number_or_null(double value, bool there)
{
    if (!there) return json_null();
    return value == floor(value) ? json_integer((json_int_t)value) : json_real(value);
}

static json_t *pain_json(const Reading *reading)
{
    if (reading->pain_kind == PAIN_SOME) return json_string("some");
    return number_or_null(reading->pain, reading->pain_kind == PAIN_NUMBER);
}

/* The fields that name the session, from its row or, where it was never asked, from the plan. NULL:
 * no such session. */
static json_t *session_fields(Job *job, const Person *person, const ReplyCase *about)
{
    g_autoptr(Row) row = tx_get_text(job->tx, TABLE_SESSION, about->session);

    if (row == NULL)
        return about->instant != NULL ? session_body(person, about->session, about->instant) : NULL;
    return json_pack("{s:s, s:s?, s:I, s:s?, s:s?, s:I}", "session", about->session, "date",
                     row_text(row, SESSION_DATE), "slot", (json_int_t)row_int(row, SESSION_SLOT),
                     "local", row_text(row, SESSION_LOCAL), "zone", row_text(row, SESSION_ZONE),
                     "utc", (json_int_t)row_int(row, SESSION_UTC));
}

static void put_report(Job *job, const Person *person, const Reading *reading,
                       const ReplyCase *about)
{
    json_t *body = session_fields(job, person, about);

    if (body == NULL) return;
    json_t *said = json_pack("{s:I, s:s?, s:o, s:o, s:s, s:s, s:s?}", "at", (json_int_t)job->now_ms,
                             "done", read_done_name(reading->done), "intensity",
                             number_or_null(reading->intensity, reading->intensity >= 0), "pain",
                             pain_json(reading), "by", about->by, "reply", about->reply, "words",
                             about->words);
    json_object_update(body, said);
    json_decref(said);
    tx_append(job->tx, "report.made", person->id, about->by, NULL, body);
    if (reading->done != DONE_UNSAID) {
        due_drop(job->tx, "nudge", about->session);
        due_drop(job->tx, "silent", about->session);
        due_drop(job->tx, "call", about->session);
    }
    if (reading->done == DONE_NO) alert_missed_run(job, person->id, about->session);
}

/* --- what a clinician must know --- */

/* What a safety text is for (g_free). Someone who had stopped gets one for that stop, and no more, although somebody writes the stop
 * down once more; two who share a telephone stopped with one text, and have one between them. */
static char *safety_of(const Person *person, const ReplyCase *about)
{
    const Row *stop = NULL;

    for (guint i = 0; i < person->bars->len && stop == NULL; i++) /* the first comes first */
        if (strcmp(row_text(person->bars->pdata[i], BAR_KIND), "stop") == 0)
            stop = person->bars->pdata[i];
    if (stop == NULL) return g_strdup(about->reply);
    const char *cause = row_text(stop, BAR_CAUSE);
    return g_strconcat("stop/", cause != NULL ? cause : row_text(stop, BAR_ID), NULL);
}

static void send_safety(Job *job, const Person *person, const ReplyCase *about,
                        const Reading *reading, const Matter *matter)
{
    g_autofree char *of = safety_of(person, about);
    Worded words;

    words_safety(job, person,
                 &(SafetyCase){.kind = matter_named(matter->kind, matter->reasons),
                               .class = matter->class,
                               .late = about->late,
                               .bare = reading->intensity,
                               .anyones = about->anyones,
                               .by = about->channel},
                 &words);
    reply_say(job, person, about, (Answer){MESSAGE_SAFETY, "safety", of}, &words);
    worded_clear(&words);
}

static void raise_matter(Job *job, const Person *person, const ReplyCase *about,
                         const Reading *reading, Matter *matter)
{
    if (matter->class == ALERT_NONE) return;
    if (matter->class != ALERT_FOR_DIGEST) send_safety(job, person, about, reading, matter);
    g_autofree char *alert = alert_open(job, person,
                                        &(Opening){.kind = matter->kind,
                                                   .class = matter->class,
                                                   .hold = matter->hold,
                                                   .cause = about->reply,
                                                   .reasons = matter->reasons});
    if (matter->class == ALERT_FOR_DIGEST && about->session != NULL && !person->stopped) {
        Worded words;
        words_value(job, person, about->channel, "ease-off", reading->intensity, &words);
        reply_say(job, person, about, (Answer){MESSAGE_ANSWER, "ease-off", about->session}, &words);
        worded_clear(&words);
    }
}

void reply_act(Job *job, const Person *person, const Reading *given, const ReplyCase *about)
{
    Reading reading = *given; /* a shallow copy: only its numbers change */
    MatterLimits limits = {.pain_now = job->clinic->pain_now,
                           .pain_today = job->clinic->pain_today,
                           .intensity_high = job->clinic->intensity_high,
                           .usual_pain = person->usual_pain};
    Matter matter;

    reply_take_answer(job, person, &reading, about);
    bool says =
        reading.done != DONE_UNSAID || reading.intensity >= 0 || reading.pain_kind != PAIN_UNSAID;
    if (says && about->session != NULL) put_report(job, person, &reading, about);
    if (reading.pain_kind == PAIN_NUMBER && about->session != NULL)
        due_drop(job->tx, "pain", about->session);
    matter_of_reading(&reading, &limits, &matter);
    raise_matter(job, person, about, &reading, &matter);
    reply_note_stretch(job, person, &reading, about);
    reply_ask(job, person, &reading, about, &matter);
    matter_clear(&matter);
}

/* --- commands --- */

void reply_stop(Job *job, const Person *person, const char *cause, const char *by)
{
    if (person->stopped) return;
    tx_append(job->tx, "client.stop", person->id, by, NULL,
              json_pack("{s:I, s:s, s:s, s:s?}", "at", (json_int_t)job->now_ms, "why",
                        "asked for it", "by", by, "cause", cause));
    json_t *reasons = json_array();
    json_array_append_new(reasons,
                          reason_words("stopped", "the client wants no more messages", NULL));
    g_free(alert_open(job, person,
                      &(Opening){.kind = "stopped",
                                 .class = ALERT_TODAY,
                                 .cause = cause != NULL ? cause : person->id,
                                 .reasons = reasons}));
    json_decref(reasons);
}

static void start(Job *job, const Person *person, const char *by)
{
    json_t *ends = person_bars(person, "stop");

    if (json_array_size(ends) == 0)
        json_decref(ends);
    else
        tx_append(
            job->tx, "client.start", person->id, by, NULL,
            json_pack("{s:o, s:I, s:s}", "ends", ends, "at", (json_int_t)job->now_ms, "by", by));
}

/* What no START ends. */
static bool is_barred(const Person *person)
{
    return person->suspended || person->held || person->paused || person->ended;
}

bool reply_command(Job *job, const Person *person, const Reading *reading, const ReplyCase *about)
{
    switch (reading->command) {
    case COMMAND_NONE: return false;
    case COMMAND_STOP:
        if (!person->stopped)
            answer_key(job, person, about, (Answer){MESSAGE_STOPPED, "stopped", about->reply},
                       "stopped");
        if (about->back == BACK_ALL)
            reply_stop(job, person, about->reply, about->by);
        else
            reply_bar_stop(job, person, about->reply, about->by);
        return true;
    case COMMAND_START:
        /* Told in a sentence, a person decides; a bare keyword from the client's own address is
         * enough. */
        if (reading->person || about->stranger || about->back != BACK_ALL) return false;
        if (!person->stopped && is_barred(person)) return false;
        start(job, person, about->by);
        unsubscribe_undo(job, person, about->channel);
        answer_key(job, person, about, (Answer){MESSAGE_ANSWER, "started", about->reply},
                   "started");
        return true;
    case COMMAND_HELP:
        answer_key(job, person, about, (Answer){MESSAGE_HELP, "help", about->reply}, "help");
        return true;
    }
    g_assert_not_reached();
}

/* --- clinicians --- */

/* The unused code that was sent to that number (row_free), or NULL. */
static Row *find_code(Job *job, const char *number, const char *code)
{
    g_autoptr(GPtrArray) rows = find_codes(job->tx, number, code);

    return rows->len > 0 ? g_ptr_array_steal_index(rows, 0) : NULL;
}

/* So many wrong codes of a number in an hour, and none is compared any more: four digits must not be found by trying. */
#define WRONG_CODES_MOST 5

static int tries_left(Job *job, const char *number)
{
    return WRONG_CODES_MOST - find_wrong_codes(job->tx, number, job->now_ms - HOUR_MS);
}

/* The runs of four digits in a text, at most so many. */
static int code_runs(const char *text, const char **runs, int most)
{
    int n = 0;

    for (const char *p = text; *p != '\0' && n < most;) {
        size_t run = strspn(p, "0123456789");
        if (run == CODE_DIGITS) runs[n++] = p;
        p += MAX(run, 1);
    }
    return n;
}

bool reply_staff_is_barred(Job *job, const char *number, const char *text)
{
    const char *runs[1];

    return code_runs(text, runs, 1) > 0 && tries_left(job, number) <= 0;
}

/* Tries each run of four digits in a text: who quotes the call quotes other digits with it. The code's row (row_free), or NULL. */
static Row *find_code_in(Job *job, const char *reply, const char *number, const char *text)
{
    const char *runs[WRONG_CODES_MOST];
    int n = code_runs(text, runs, CLAMP(tries_left(job, number), 0, WRONG_CODES_MOST));

    for (int i = 0; i < n; i++) {
        g_autofree char *digits = g_strndup(runs[i], CODE_DIGITS);
        Row *code = find_code(job, number, digits);
        if (code != NULL) return code;
    }
    if (n > 0) wrong_code_add(job->tx, reply, number, job->now_ms, n);
    return NULL;
}

/* May they take it? Where somebody has taken it, only once osier has called others about it since. */
static bool may_take(const Row *alert, const char *by)
{
    const char *state = row_text(alert, ALERT_STATE);

    if (strcmp(state, "taken") != 0) return strcmp(state, "open") == 0;
    return g_strcmp0(row_text(alert, ALERT_TAKEN_BY), by) == 0 ||
           row_int(alert, ALERT_PASSED_AT) > row_int(alert, ALERT_TAKEN_AT);
}

static void answer_take(Job *job, Row *code, const Row *alert, bool denies, Worded *words)
{
    g_autoptr(Person) client = person_load(job, row_text(alert, ALERT_CLIENT));
    const char *by = row_text(code, CODE_PERSON);
    bool closed = strcmp(row_text(alert, ALERT_STATE), "closed") == 0;
    const char *has = row_text(alert, closed ? ALERT_CLOSED_BY : ALERT_TAKEN_BY);

    if (!may_take(alert, by)) {
        words_alert_answer(job, client, alert, "alert-taken-elsewhere", has, words);
    } else if (
        denies) { /* the code is good still, and the others are called as if nothing had come */
        words_alert_answer(job, client, alert, "alert-not-taken", by, words);
        return;
    } else {
        words_alert_answer(job, client, alert, "alert-taken", by, words);
        alert_take(job, row_text(alert, ALERT_ID), by, "text");
    }
    row_set_int(code, CODE_USED_AT, job->now_ms);
    tx_put(job->tx, code);
}

void reply_from_staff(Job *job, const char *reply, const char *number, const char *text,
                      bool denies)
{
    g_autoptr(Row) code = find_code_in(job, reply, number, text);
    const char *about = code != NULL ? row_text(code, CODE_ALERT) : NULL;
    g_autoptr(Row) alert = about != NULL ? tx_get_text(job->tx, TABLE_ALERT, about) : NULL;
    g_autofree char *purpose = g_strconcat("taking/", reply, NULL);
    Worded words;

    if (alert == NULL)
        words_take_refused(job, &words);
    else
        answer_take(job, code, alert, denies, &words);
    g_free(post_staff(
        job, CHANNEL_SMS, number, NULL,
        &(Post){.kind = MESSAGE_UPDATE, .purpose = purpose, .text = words.text, .alert = about}));
    worded_clear(&words);
}
