/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/jobs/reply_ask.h"

#include <string.h>

#include "adapters/store/find_record.h"
#include "adapters/store/find_work.h"
#include "core/ledger/id.h"
#include "daemon/jobs/alert.h"
#include "daemon/jobs/post.h"
#include "daemon/jobs/session_told.h"

/* How long "some" pain may stay without its number before a clinician is called. */
#define PAIN_ANSWER_MS (3 * HOUR_MS)
#define ANSWER_ENDS_MS (12 * HOUR_MS)

static const char *const QUESTIONS[] = {"question-pain", "question-high", "question-unclear",
                                        "question-confirm"};

bool reply_say(Job *job, const Person *person, const ReplyCase *about, Answer what,
               const Worded *words)
{
    g_autofree char *purpose = g_strdup_printf("%s/%s", what.stem, what.of);
    const char *address = about->from;

    if (about->back == BACK_NOTHING || (about->back == BACK_SAFETY && what.kind != MESSAGE_SAFETY))
        return false;
    bool lapses = what.kind == MESSAGE_ANSWER || what.kind == MESSAGE_QUESTION;

    if (address == NULL && about->channel != CHANNEL_PHONE)
        address = person->address[about->channel];
    g_autofree char *id =
        post_client_by(job, person, about->channel, address,
                       &(Post){.kind = what.kind,
                               .purpose = purpose,
                               .text = words->text,
                               .subject = words->subject,
                               .session = about->session,
                               .end_ms = lapses ? job->now_ms + ANSWER_ENDS_MS : 0});
    return id != NULL;
}

static bool was_put(Job *job, const char *stem, const char *session)
{
    g_autofree char *purpose = g_strdup_printf("%s/%s", stem, session);
    g_autofree char *id = id_message(purpose);
    g_autoptr(Row) waiting = tx_get_text(job->tx, TABLE_OUTBOX, id);
    g_autoptr(Row) settled = tx_get_text(job->tx, TABLE_MESSAGE, id);

    return waiting != NULL || settled != NULL;
}

static void ask(Job *job, const Person *person, const ReplyCase *about, const char *key,
                Worded *words)
{
    bool asked = false;

    for (size_t i = 0; i < G_N_ELEMENTS(QUESTIONS); i++)
        asked |= was_put(job, QUESTIONS[i], about->session);
    if (!asked)
        reply_say(job, person, about, (Answer){MESSAGE_QUESTION, key, about->session}, words);
    worded_clear(words);
}

void reply_ask(Job *job, const Person *person, const Reading *reading, const ReplyCase *about,
               const Matter *matter)
{
    Worded words;

    if (about->session == NULL || reading->warning != WARNING_NONE || matter->class == ALERT_NOW)
        return;
    if (reading->pain_kind == PAIN_SOME) {
        words_key(job, person, about->channel, "question-pain", &words);
        ask(job, person, about, "question-pain", &words);
        due_set(job->tx, "pain", about->session, job->now_ms + PAIN_ANSWER_MS, person->id,
                about->reply);
    } else if (reading->ambiguous_high) {
        words_value(job, person, about->channel, "question-high", reading->intensity, &words);
        ask(job, person, about, "question-high", &words);
    } else if (reading->by_order && reading->pain > reading->intensity &&
               matter->class == ALERT_NONE) {
        words_rates(job, person, about->channel, "question-confirm", reading->intensity,
                    reading->pain, &words);
        ask(job, person, about, "question-confirm", &words);
    } else if (reading->unclear) {
        words_key(job, person, about->channel, "question-unclear", &words);
        ask(job, person, about, "question-unclear", &words);
    }
}

/* The last report of the session, where it has a high number that may be stretch or pain; else NULL. */
static Row *high_report(Job *job, const Person *person, const char *session)
{
    g_autoptr(GPtrArray) reports =
        find_reports(job->tx, person->id, job->now_ms - 2 * DAY_MS, job->now_ms + 1);

    for (guint i = reports->len; i-- > 0;) {
        Row *row = reports->pdata[i];
        if (g_strcmp0(row_text(row, REPORT_SESSION), session) != 0) continue;
        bool high = !row_is_null(row, REPORT_INTENSITY) && row_is_null(row, REPORT_PAIN);
        return high && report_was_bare(job, row) ? g_ptr_array_steal_index(reports, i) : NULL;
    }
    return NULL;
}

static void place_high(Reading *reading, const Row *high)
{
    double value = row_real(high, REPORT_INTENSITY);
    const char *done = row_text(high, REPORT_DONE);

    if (reading->answer == ANSWER_STRETCH) {
        reading->intensity = value;
    } else {
        reading->pain_kind = PAIN_NUMBER;
        reading->pain = value;
    }
    for (ReadDone told = DONE_YES; told <= DONE_NO && reading->done == DONE_UNSAID; told++)
        if (g_strcmp0(done, read_done_name(told)) == 0) reading->done = told;
    reading->ambiguous_high = false;
}

void reply_take_answer(Job *job, const Person *person, Reading *reading, const ReplyCase *about)
{
    if (about->session == NULL) return;
    if (reading->answer != ANSWER_NONE && reading->intensity < 0 &&
        reading->pain_kind != PAIN_NUMBER) {
        g_autoptr(Row) high = high_report(job, person, about->session);
        if (high != NULL) place_high(reading, high);
    }
    if (about->bare && reading->intensity >= 0 && reading->pain_kind == PAIN_UNSAID &&
        reading->answer == ANSWER_NONE && was_put(job, "question-pain", about->session) &&
        due_is_set(job->tx, "pain", about->session)) {
        reading->pain_kind = PAIN_NUMBER;
        reading->pain = reading->intensity;
        reading->intensity = -1;
        reading->ambiguous_high = false;
    }
}

void reply_note_stretch(Job *job, const Person *person, const Reading *reading,
                        const ReplyCase *about)
{
    if (reading->answer != ANSWER_STRETCH || reading->intensity < 0) return;
    g_autoptr(Row) alert = find_open_alert(job->tx, person->id, "pain");
    if (alert == NULL) return;
    g_autofree char *value = g_strdup_printf("%g", reading->intensity);
    json_t *reasons = json_array();
    json_array_append_new(reasons, reason_words("the client says stretch", value, NULL));
    tx_append(job->tx, "alert.repeated", row_text(alert, ALERT_ID), "osier", NULL,
              json_pack("{s:s, s:I, s:O}", "cause", about->reply, "at", (json_int_t)job->now_ms,
                        "reasons", reasons));
    json_decref(reasons);
    if (strcmp(row_text(alert, ALERT_STATE), "taken") == 0)
        alert_tell_taker(job, person, alert, about->reply);
}
