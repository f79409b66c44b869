/* SPDX-License-Identifier: Apache-2.0 */
/* The calls about an alert: whom, by what way, with which code, and when the next is due. */
#include <string.h>

#include "adapters/store/find_work.h"
#include "core/watch/duty.h"
#include "daemon/jobs/alert.h"
#include "daemon/jobs/post.h"
#include "daemon/jobs/words.h"

#define CODE_TRIES 200

static const DutyPerson *duty_by_name(const Clinic *clinic, const char *name)
{
    for (guint i = 0; i < clinic->duty->len; i++) {
        const DutyPerson *person = clinic->duty->pdata[i];
        if (g_strcmp0(person->name, name) == 0) return person;
    }
    return NULL;
}

/* Tells one clinician by text, or by mail where there is no number. */
static void tell(Job *job, const DutyPerson *person, const Post *post, const char *about)
{
    Channel channel = person->sms != NULL ? CHANNEL_SMS : CHANNEL_EMAIL;

    g_free(
        post_staff(job, channel, person->sms != NULL ? person->sms : person->email, about, post));
}

/* What is not for now waits for the clinic's hours; 0: it may go at once. */
static int64_t not_before(Job *job, const Row *alert)
{
    GTimeZone *zone = job_clinic_zone(job);
    LocalTime local = zone_local(zone, job->now_ms);
    LocalTime open;

    if (strcmp(row_text(alert, ALERT_CLASS), "now") == 0 || clinic_open(job->clinic, local) ||
        !clinic_next_open(job->clinic, local, &open))
        return 0;
    return zone_instant(zone, open, NULL);
}

/* A code of four digits that this clinician can take this alert with, by a text from that number,
 * once. */
static char *taking_code(Job *job, const char *alert, const DutyPerson *person)
{
    g_autoptr(Row) row = row_new(TABLE_CODE);

    row_set_text(row, CODE_ALERT, alert);
    row_set_text(row, CODE_PERSON, person->name);
    g_autoptr(Row) before = tx_get(job->tx, row);
    if (before != NULL && row_is_null(before, CODE_USED_AT))
        return g_strdup(row_text(before, CODE_CODE));
    g_autofree char *purpose = g_strdup_printf("code/%s/%s", alert, person->name);
    char *code = NULL;
    bool taken = true;
    /* A code names one alert alone; should a number have all of them unused, any will do. */
    for (int tries = 0; taken && tries < CODE_TRIES; tries++) {
        g_free(code);
        code = g_strdup_printf("%04d", (int)random_below(job->random, purpose, 10000));
        g_autoptr(GPtrArray) same = find_codes(job->tx, person->sms, code);
        taken = person->sms != NULL && same->len > 0;
    }
    row_set_text(row, CODE_NUMBER, person->sms);
    row_set_text(row, CODE_CODE, code);
    tx_put(job->tx, row);
    return code;
}

/* Nobody is sent a second call about a matter while the first still waits: a gateway that comes back
 * after a night must not ring out that night's calls one by one. */
static void send_call(Job *job, Channel channel, const char *to, const char *about,
                      const Post *post)
{
    g_autoptr(GPtrArray) waiting = find_calls_waiting(job->tx, post->alert, to);

    if (waiting->len == 0) g_free(post_staff(job, channel, to, about, post));
}

/* The same call as mail: to the one who is called, where no text can or does reach them, and to the
 * clinic's desk. */
static void call_by_mail(Job *job, const Row *alert, const Person *client, const char *purpose,
                         const char *own, bool desk)
{
    Worded words;

    words_alert_mail(job, client, alert, &words);
    Post post = {.kind = MESSAGE_ALERT,
                 .text = words.text,
                 .subject = words.subject,
                 .alert = row_text(alert, ALERT_ID)};
    const char *about = client != NULL ? client->id : NULL;
    if (own != NULL) {
        g_autofree char *to_own = g_strconcat(purpose, "/mail", NULL);
        post.purpose = to_own;
        send_call(job, CHANNEL_EMAIL, own, about, &post);
    }
    for (guint i = 0; desk && i < job->clinic->digest_to->len; i++) {
        g_autofree char *to_desk = g_strdup_printf("%s/mail/%u", purpose, i);
        post.purpose = to_desk;
        send_call(job, CHANNEL_EMAIL, job->clinic->digest_to->pdata[i], about, &post);
    }
    worded_clear(&words);
}

/* Calls one person by text, or by mail where there is no number. Where the texts of the calls before
 * have not got out yet, mail goes as well, to the person and to the desk; and to the desk when the
 * list starts again. */
static void call(Job *job, const Row *alert, const Person *client, const DutyCall *call)
{
    const char *id = row_text(alert, ALERT_ID);
    const DutyPerson *person = call->person;
    int64_t passed = row_int(alert, ALERT_PASSED);
    bool unheard = passed > 0 && find_unsent_texts(job->tx, id) > 0;
    g_autofree char *purpose = g_strdup_printf("alert/%s/%" G_GINT64_FORMAT, id, passed);

    if (person->sms != NULL) {
        g_autofree char *taking = taking_code(job, id, person);
        Worded words;
        words_alert(job, client, alert, taking, passed > 0, &words);
        send_call(
            job, CHANNEL_SMS, person->sms, client != NULL ? client->id : NULL,
            &(Post){.kind = MESSAGE_ALERT, .purpose = purpose, .text = words.text, .alert = id});
        worded_clear(&words);
    }
    call_by_mail(job, alert, client, purpose, person->sms == NULL || unheard ? person->email : NULL,
                 call->again || unheard);
    tx_append(job->tx, "alert.passed", id, "osier", NULL,
              json_pack("{s:s, s:I, s:I}", "to", person->name, "at", (json_int_t)job->now_ms,
                        "round", (json_int_t)passed));
}

/* Calls the next person where it is time, at once without waiting for the pace. Gives when the next is due; 0: nobody is. */
static int64_t pass_on(Job *job, const Row *alert, bool at_once, bool *called)
{
    g_autoptr(Person) client = person_load(job, row_text(alert, ALERT_CLIENT));
    GTimeZone *zone = job_clinic_zone(job);
    DutyCase so_far = {.class = alert_class_from_name(row_text(alert, ALERT_CLASS)),
                       .treating = client != NULL ? client->clinician : NULL,
                       .taker = row_text(alert, ALERT_TAKEN_BY),
                       .passed = (int)row_int(alert, ALERT_PASSED),
                       .last_ms = row_int(alert, ALERT_PASSED_AT)};
    DutyCall next;

    *called = false;
    /* Since the clock was set back, nobody can say how long ago that was. */
    if (at_once || so_far.last_ms > job->now_ms) so_far.last_ms = 0;
    if (!duty_next(job->clinic, zone, &so_far, job->now_ms, &next)) return 0;
    if (next.at_ms <= job->now_ms) {
        call(job, alert, client, &next);
        *called = true;
        so_far.passed++;
        so_far.last_ms = job->now_ms;
        if (!duty_next(job->clinic, zone, &so_far, job->now_ms, &next))
            next.at_ms = job->now_ms + job->clinic->again_ms;
    }
    return MAX(next.at_ms, job->now_ms + SECOND_MS);
}

void alert_pass_on(Job *job, const char *id)
{
    g_autoptr(Row) alert = tx_get_text(job->tx, TABLE_ALERT, id);

    bool open = alert != NULL && g_strcmp0(row_text(alert, ALERT_STATE), "open") == 0, called;
    int64_t next_ms = open ? pass_on(job, alert, false, &called) : 0;

    if (next_ms > 0)
        due_set(job->tx, "alert", id, next_ms, NULL, NULL);
    else
        due_drop(job->tx, "alert", id);
}

/* Of what was taken and brought no further the next is called. */
static void pass_on_taken(Job *job, const Row *alert, bool at_once)
{
    const char *id = row_text(alert, ALERT_ID);
    int64_t again_ms = job->now_ms + ALERT_OUTCOME_WANTED_MS;
    bool called;
    int64_t next_ms = pass_on(job, alert, at_once, &called);

    due_drop(job->tx, "alert", id);
    /* Where the clinic is closed, whoever is next is called when it opens. */
    if (!called && next_ms > 0) again_ms = MIN(again_ms, next_ms);
    due_set(job->tx, "taken", id, again_ms, NULL, NULL);
}

void alert_taken_late(Job *job, const char *id)
{
    g_autoptr(Row) alert = tx_get_text(job->tx, TABLE_ALERT, id);

    due_drop(job->tx, "taken", id);
    if (alert == NULL || g_strcmp0(row_text(alert, ALERT_STATE), "taken") != 0) return;
    bool first = row_int(alert, ALERT_PASSED_AT) <= row_int(alert, ALERT_TAKEN_AT);
    pass_on_taken(job, alert, first || g_strcmp0(row_text(alert, ALERT_CLASS), "now") == 0);
}

void alert_tell_taker(Job *job, const Person *client, const Row *alert, const char *cause)
{
    const char *id = row_text(alert, ALERT_ID);
    const DutyPerson *taker = duty_by_name(job->clinic, row_text(alert, ALERT_TAKEN_BY));
    g_autofree char *purpose = g_strdup_printf("alert/%s/more/%s", id, cause);
    Worded words;

    if (taker == NULL) {
        pass_on_taken(job, alert, true);
        return;
    }
    words_alert_answer(job, client, alert, "alert-more", taker->name, &words);
    tell(job, taker,
         &(Post){.kind = MESSAGE_ALERT,
                 .purpose = purpose,
                 .text = words.text,
                 .subject = words.subject,
                 .alert = id,
                 .not_before_ms = not_before(job, alert)},
         client != NULL ? client->id : NULL);
    worded_clear(&words);
}
