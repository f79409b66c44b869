/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/jobs/replanned.h"

#include <string.h>

#include "daemon/jobs/schedule.h"
#include "daemon/jobs/words.h"

void replanned_judge(Job *job, const Person *person, Row *reminder, GateVerdict *verdict)
{
    int64_t session_ms = row_int(reminder, OUTBOX_END) - job->clinic->reminder_ends_ms;
    Worded words;

    if (!schedule_has_day(job, person, session_ms)) {
        *verdict = (GateVerdict){.answer = GATE_NEVER,
                                 .rule = "the plan has no session on that day any more"};
        return;
    }
    /* A text names no movement; a mail does, for whom the clinic chooses so. */
    if (strcmp(row_text(reminder, OUTBOX_CHANNEL), "email") != 0) return;
    words_reminder(job, person, &words);
    row_set_text(reminder, OUTBOX_TEXT, words.text);
    worded_clear(&words);
}
