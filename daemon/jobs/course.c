/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/jobs/course.h"

#include "adapters/store/find_practice.h"
#include "adapters/store/find_record.h"
#include "adapters/store/find_work.h"
#include "core/ledger/id.h"
#include "daemon/jobs/alert.h"
#include "daemon/jobs/checkin.h"
#include "daemon/jobs/consent.h"
#include "daemon/jobs/post.h"
#include "daemon/jobs/words.h"

#define QUESTION_ENDS_MS (8 * HOUR_MS)
#define APART_S (90 * 60) /* from the times of the sessions */

/* --- when --- */

/* The first of these hours that is well apart from the client's sessions. */
static int32_t quiet_hour(const Person *person)
{
    static const int32_t HOURS[] = {11, 14, 17};

    for (size_t i = 0; i < G_N_ELEMENTS(HOURS); i++) {
        int32_t second = HOURS[i] * 3600;
        bool apart = true;
        for (int k = 0; k < person->times.n_times; k++)
            apart = apart && ABS(person->times.times[k] - second) >= APART_S;
        if (apart) return second;
    }
    return HOURS[0] * 3600;
}

static bool review_day(const Person *person, Day *day)
{
    return person->review != NULL && day_parse(person->review, day);
}

static char *review_cause(const Person *person)
{
    return id_of("review", person->id, person->review, NULL);
}

/* Has the review of that date been told of? */
static bool review_told(Job *job, const Person *person)
{
    g_autofree char *cause = review_cause(person);
    g_autofree char *id = id_alert(person->id, "review", cause);
    g_autoptr(Row) alert = tx_get_text(job->tx, TABLE_ALERT, id);
    g_autoptr(Row) open = find_open_alert(job->tx, person->id, "review");

    return alert != NULL || open != NULL;
}

/* Has the break that began after that day been asked about? */
static bool away_told(const Person *person, Day last)
{
    g_autofree char *since = day_format(last);

    return g_strcmp0(person->away_since, since) == 0;
}

static const Day NEVER = G_MAXINT32;

static Day next_day(Job *job, const Person *person, const Ready *ready)
{
    Day next = NEVER;
    Day day;

    if (ready != NULL) {
        Day last = ready_last_practice(ready);
        if (checkin_day(job, person, ready->ask.programme, &day)) next = MIN(next, day);
        if (!person->stopped && !away_told(person, last))
            next = MIN(next, last + ready->ask.programme->void_days_off);
    }
    if (review_day(person, &day) && !review_told(job, person)) next = MIN(next, day);
    if (consent_day(job, person, &day)) next = MIN(next, day);
    return next;
}

void course_next(Job *job, const Person *person)
{
    g_autoptr(Ready) ready = person_has_plan(person) ? ready_judge(job, person) : NULL;
    GTimeZone *zone = person_zone(job, person);
    Day today = zone_local(zone, job->now_ms).day;
    Day day = person_has_plan(person) ? next_day(job, person, ready) : NEVER;
    LocalTime at = {.day = MAX(day, today), .second = quiet_hour(person)};

    if (day == NEVER) {
        due_drop(job->tx, "course", person->id);
        return;
    }
    /* What could not be done today is tried again tomorrow. */
    if (zone_instant(zone, at, NULL) <= job->now_ms) at.day = today + 1;
    due_set(job->tx, "course", person->id, zone_instant(zone, at, NULL), person->id, NULL);
}

void course_ensure(Job *job, const Person *person)
{
    if (!due_is_set(job->tx, "course", person->id)) course_next(job, person);
}

/* --- a long break --- */

static json_t *break_reasons(const Ready *ready, Day last, const Row *absence)
{
    int off = ready->ask.today - last;
    json_t *reasons = json_array();

    json_array_append_new(reasons, reason_number("days without practice", off,
                                                 ready->ask.programme->void_days_off, true));
    json_array_append_new(reasons, reason_words("goes on", "one dose lower",
                                                "until the window of readiness is full again"));
    if (absence != NULL)
        json_array_append_new(reasons, reason_words("not asked: the reason is known",
                                                    row_text(absence, BAR_KIND),
                                                    row_text(absence, BAR_WHY)));
    return reasons;
}

/* Asks what happened; where a pause or hold tells it already, only says how to begin again. */
static char *put_break(Job *job, const Person *person, const char *since, bool known,
                       json_t *reasons)
{
    g_autofree char *purpose = g_strdup_printf("away/%s/%s", person->id, since);
    Worded words;

    words_key(job, person, person->channel, known ? "after-break" : "question-away", &words);
    char *message = post_client(job, person,
                                &(Post){.kind = known ? MESSAGE_UPDATE : MESSAGE_QUESTION,
                                        .purpose = purpose,
                                        .text = words.text,
                                        .subject = words.subject,
                                        .end_ms = job->now_ms + QUESTION_ENDS_MS,
                                        .reasons = reasons});
    worded_clear(&words);
    return message;
}

static bool may_write(Job *job, const Person *person)
{
    GateCase gate =
        post_gate(job, person, person->channel, MESSAGE_QUESTION, job->now_ms + QUESTION_ENDS_MS);

    return gate_judge(&gate).answer == GATE_GO && gate.sent_today < gate.per_day_max;
}

/* Who is rung up is asked by whoever rings. */
static void leave_to_call(Job *job, const Person *person, const char *since, json_t *reasons)
{
    g_autofree char *cause = id_of("away", person->id, since, NULL);

    g_free(alert_open(
        job, person,
        &(Opening){.kind = "away", .class = ALERT_FOR_DIGEST, .cause = cause, .reasons = reasons}));
}

static void meet_break(Job *job, const Person *person, const Ready *ready)
{
    Day last = ready_last_practice(ready);
    int64_t last_ms = zone_instant(person_zone(job, person), (LocalTime){.day = last}, NULL);
    bool rung = person->channel == CHANNEL_PHONE;

    if (!ready->answer.window_void || away_told(person, last)) return;
    if (rung ? person->paused || person->held || person->suspended : !may_write(job, person))
        return;
    g_autoptr(GPtrArray) absences = find_absences(job->tx, person->id, last_ms);
    const Row *absence = absences->len > 0 ? absences->pdata[0] : NULL;
    g_autofree char *since = day_format(last);
    json_t *reasons = break_reasons(ready, last, absence);
    g_autofree char *message =
        rung ? NULL : put_break(job, person, since, absence != NULL, reasons);
    if (rung) leave_to_call(job, person, since, reasons);
    tx_append(job->tx, "client.set", person->id, "osier", NULL,
              json_pack("{s:{s:{s:s, s:I, s:s?}}, s:o}", "fields", "away-asked", "since", since,
                        "at", (json_int_t)job->now_ms, "message", message, "reasons", reasons));
}

/* --- the review --- */

static void meet_review(Job *job, const Person *person, const Ready *ready, Day today)
{
    Day day;

    if (!review_day(person, &day) || day > today || review_told(job, person)) return;
    g_autofree char *cause = review_cause(person);
    json_t *reasons = json_array();
    json_array_append_new(reasons, reason_words("review date", person->review, NULL));
    if (ready != NULL)
        json_array_append_new(reasons, reason_words("stage", ready->ask.stage->key,
                                                    ready_verdict_name(ready->answer.verdict)));
    g_free(alert_open(
        job, person,
        &(Opening){
            .kind = "review", .class = ALERT_FOR_DIGEST, .cause = cause, .reasons = reasons}));
    json_decref(reasons);
}

void course_meet(Job *job, const char *client)
{
    g_autoptr(Person) person = person_load(job, client);

    due_drop(job->tx, "course", client);
    if (person == NULL || !person_has_plan(person)) return;
    g_autoptr(Ready) ready = ready_judge(job, person);
    Day today = zone_local(person_zone(job, person), job->now_ms).day;
    Day day;
    if (ready != NULL) {
        if (checkin_day(job, person, ready->ask.programme, &day) && day <= today)
            checkin_ask(job, person, ready);
        meet_break(job, person, ready);
    }
    meet_review(job, person, ready, today);
    consent_meet(job, person, today);
    g_autoptr(Person) after = person_again(job, person);
    course_next(job, after);
}
