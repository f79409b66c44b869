/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/jobs/consent.h"

#include "adapters/store/find_record.h"
#include "core/ledger/id.h"
#include "daemon/jobs/alert.h"

/* The client's day of the last word; whoever set the plan had one too. False where there was none. */
static bool last_word(Job *job, const Person *person, Day *day)
{
    int64_t at_ms = find_last_word(job->tx, person->id);

    if (at_ms == 0) return false;
    *day = MAX(zone_local(person_zone(job, person), at_ms).day, person->times.from);
    return true;
}

bool consent_day(Job *job, const Person *person, Day *day)
{
    if (job->clinic->consent_silence_days == 0 || person->channel == CHANNEL_PHONE ||
        person->stopped || person->suspended || person->ended || !last_word(job, person, day))
        return false;
    *day += job->clinic->consent_silence_days;
    return true;
}

void consent_meet(Job *job, const Person *person, Day today)
{
    int limit = job->clinic->consent_silence_days;
    Day due;

    if (!consent_day(job, person, &due) || due > today) return;
    g_autofree char *since = day_format(due - limit);
    g_autofree char *cause = id_of("consent", person->id, since, NULL);
    json_t *reasons = json_array();
    json_array_append_new(reasons,
                          reason_number("days without a word", today - (due - limit), limit, true));
    json_array_append_new(reasons, reason_words("texts wait", "until consent is given anew", NULL));
    tx_append(job->tx, "client.suspend", person->id, "osier", NULL,
              json_pack("{s:I, s:s, s:s, s:s}", "at", (json_int_t)job->now_ms, "why", "consent",
                        "by", "osier", "cause", cause));
    g_free(alert_open(
        job, person,
        &(Opening){.kind = "consent", .class = ALERT_TODAY, .cause = cause, .reasons = reasons}));
    json_decref(reasons);
}
