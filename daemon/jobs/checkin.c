/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/jobs/checkin.h"

#include <string.h>

#include "adapters/store/find_record.h"
#include "core/ledger/id.h"
#include "core/talk/letter.h"
#include "core/watch/matter.h"
#include "daemon/jobs/post.h"
#include "daemon/jobs/words.h"

#define ENDS_MS (8 * HOUR_MS)
#define ANSWERS_WITHIN_MS (CHECKIN_EVERY_DAYS * DAY_MS)

/* --- asking --- */

bool checkin_day(Job *job, const Person *person, const Programme *programme, Day *day)
{
    Day from = person->times.from;

    if (programme->check_in->len == 0 || person->channel == CHANNEL_PHONE || person->stopped)
        return false;
    if (person->checkin_asked_ms > 0)
        from = MAX(from, zone_local(person_zone(job, person), person->checkin_asked_ms).day);
    *day = from + CHECKIN_EVERY_DAYS;
    return true;
}

static void put(Job *job, const Person *person, const char *date, json_t *reasons)
{
    g_autofree char *purpose = g_strdup_printf("checkin/%s/%s", person->id, date);
    Worded words;

    words_key(job, person, person->channel, "checkin", &words);
    g_autofree char *message = post_client(job, person,
                                           &(Post){.kind = MESSAGE_CHECKIN,
                                                   .purpose = purpose,
                                                   .text = words.text,
                                                   .subject = words.subject,
                                                   .end_ms = job->now_ms + ENDS_MS,
                                                   .reasons = reasons});
    worded_clear(&words);
    tx_append(job->tx, "client.set", person->id, "osier", NULL,
              json_pack("{s:{s:{s:s?, s:I}}, s:O}", "fields", "checkin-asked", "message", message,
                        "at", (json_int_t)job->now_ms, "reasons", reasons));
}

bool checkin_ask(Job *job, const Person *person, const Ready *ready)
{
    int off = ready->ask.today - ready_last_practice(ready);
    GateCase gate = post_gate(job, person, person->channel, MESSAGE_CHECKIN, job->now_ms + ENDS_MS);

    if (off >= CHECKIN_EVERY_DAYS || gate_judge(&gate).answer != GATE_GO) return false;
    g_autofree char *date = day_format(ready->ask.today);
    json_t *reasons = json_array();
    json_array_append_new(reasons, reason_words("weekly check-in", date, NULL));
    json_array_append_new(
        reasons, reason_number("days since the last practice", off, CHECKIN_EVERY_DAYS, true));
    put(job, person, date, reasons);
    json_decref(reasons);
    return true;
}

/* --- reading the answer --- */

static const CheckIn *entry_of(const Programme *programme, char letter)
{
    for (guint i = 0; letter != 0 && i < programme->check_in->len; i++) {
        const CheckIn *entry = programme->check_in->pdata[i];
        if (entry->letter[0] == letter) return entry;
    }
    return NULL;
}

static const Programme *programme_of(Job *job, const Person *person)
{
    return person->programme != NULL ? settings_programme(job->settings, person->programme) : NULL;
}

static bool is_open(const Person *person, int64_t at_ms)
{
    return person->checkin_asked_ms > 0 && at_ms >= person->checkin_asked_ms &&
           at_ms < person->checkin_asked_ms + ANSWERS_WITHIN_MS;
}

/* When the client was last asked about the session, by reminder or nudge. */
static int64_t session_asked_ms(Job *job, const Row *session)
{
    g_autofree char *purpose = g_strconcat("nudge/", row_text(session, SESSION_ID), NULL);
    g_autofree char *id = id_message(purpose);
    g_autoptr(Row) nudge = tx_get_text(job->tx, TABLE_MESSAGE, id);
    int64_t asked = row_int(session, SESSION_ASKED_AT);

    return nudge != NULL ? MAX(asked, row_int(nudge, MESSAGE_AT)) : asked;
}

/* D alone is "done" to a reminder and a letter to the check-in. */
typedef enum { D_DONE, D_LETTER, D_EITHER } MeaningOfD;

static MeaningOfD meaning_of_d(Job *job, const Person *person, const char *session)
{
    g_autoptr(Row) row = session != NULL ? tx_get_text(job->tx, TABLE_SESSION, session) : NULL;

    if (row != NULL && session_asked_ms(job, row) >= person->checkin_asked_ms) return D_DONE;
    return row != NULL && row_is_null(row, SESSION_REPORT) ? D_EITHER : D_LETTER;
}

/* Is the letter an answer? *unsure where a person must say. */
static bool answers(Job *job, const Person *person, const Letter *letter, const char *session,
                    int64_t at_ms, const char **unsure)
{
    if (letter->form == LETTER_NONE) return false;
    if (letter->form != LETTER_NAMED && !is_open(person, at_ms)) return false;
    if (letter->form == LETTER_UNSURE) {
        *unsure = "several letters of the sheet: which of them, a person must say";
        return false;
    }
    if (letter->form != LETTER_ALONE || letter->letter != 'D') return true;
    MeaningOfD meaning = meaning_of_d(job, person, session);
    if (meaning == D_EITHER)
        *unsure = "D may be 'done', or the letter D of the sheet: a person must say";
    return meaning == D_LETTER;
}

static Reading *read_text(Job *job, const Person *person, const char *text)
{
    g_autoptr(GPtrArray) packs = settings_packs(job->settings, person->language);

    return reply_read((const Pack *const *)packs->pdata, (int)packs->len, text, strlen(text));
}

Reading *checkin_read(Job *job, const Person *person, const char *text, const char *session,
                      int64_t at_ms, const char **unsure)
{
    const Programme *programme = programme_of(job, person);
    const char *words = pack_text(settings_pack(job->settings, person->language), "checkin-words");

    *unsure = NULL;
    if (programme == NULL || programme->check_in->len == 0) return read_text(job, person, text);
    Letter letter = letter_read(words, text);
    const CheckIn *entry = answers(job, person, &letter, session, at_ms, unsure)
                               ? entry_of(programme, letter.letter)
                               : NULL;
    Reading *reading = read_text(job, person, entry != NULL ? letter.rest : text);
    if (entry != NULL) reading->letter = letter.letter;
    letter_clear(&letter);
    bool graver = reading->warning != WARNING_NONE && reading->warning <= WARNING_NERVE;
    if (entry != NULL && entry->clinician && !graver) {
        g_free(reading->from_warning);
        reading->warning = WARNING_NERVE;
        reading->from_warning = g_strdup_printf("letter %s: %s", entry->letter, entry->text);
    }
    return reading;
}

bool checkin_only(const Reading *reading)
{
    return reading->letter != 0 && reading->done == DONE_UNSAID && reading->intensity < 0 &&
           reading->pain_kind == PAIN_UNSAID && reading->command == COMMAND_NONE &&
           !reading->suspend;
}

void checkin_record(Job *job, const Person *person, const Reading *reading, const char *cause,
                    const char *by)
{
    const Programme *programme = programme_of(job, person);
    const CheckIn *entry = programme != NULL ? entry_of(programme, reading->letter) : NULL;

    if (entry == NULL) return;
    json_t *reasons = json_array();
    json_array_append_new(reasons, reason_words("check-in", entry->letter, entry->text));
    tx_append(job->tx, "client.set", person->id, by, NULL,
              json_pack("{s:{s:{s:s, s:s, s:I, s:s?, s:s}}, s:o}", "fields", "checkin", "letter",
                        entry->letter, "place", entry->place, "at", (json_int_t)job->now_ms,
                        "message", person->checkin_message, "reply", cause, "reasons", reasons));
}
