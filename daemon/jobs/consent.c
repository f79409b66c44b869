/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/jobs/consent.h"

#include <string.h>

#include "adapters/store/find_record.h"
#include "core/ledger/id.h"
#include "daemon/jobs/alert.h"

#define WHY_CONSENT "consent"

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

static bool is_suspended_for_it(const Person *person)
{
    for (guint i = 0; i < person->bars->len; i++)
        if (strcmp(row_text(person->bars->pdata[i], BAR_KIND), "suspend") == 0 &&
            g_strcmp0(row_text(person->bars->pdata[i], BAR_WHY), WHY_CONSENT) == 0)
            return true;
    return false;
}

bool consent_is_out(Job *job, const Person *person)
{
    int limit = job->clinic->consent_silence_days;
    Day today = zone_local(person_zone(job, person), job->now_ms).day;
    Day day;

    return limit > 0 && person->channel != CHANNEL_PHONE && is_suspended_for_it(person) &&
           last_word(job, person, &day) && day + limit <= today;
}

void consent_meet(Job *job, const Person *person, Day today)
{
    int limit = job->clinic->consent_silence_days;
    Day due;

    if (!consent_day(job, person, &due) || due > today) return;
    /* By the day on which it ends, not by that of the last word: whoever ended it before is called again. */
    g_autofree char *date = day_format(today);
    g_autofree char *cause = id_of("consent", person->id, date, NULL);
    json_t *reasons = json_array();
    json_array_append_new(reasons,
                          reason_number("days without a word", today - (due - limit), limit, true));
    json_array_append_new(reasons, reason_words("texts wait", "until consent is given anew", NULL));
    tx_append(job->tx, "client.suspend", person->id, "osier", NULL,
              json_pack("{s:I, s:s, s:s, s:s}", "at", (json_int_t)job->now_ms, "why", WHY_CONSENT,
                        "by", "osier", "cause", cause));
    g_free(alert_open(job, person,
                      &(Opening){.kind = "consent",
                                 .class = ALERT_TODAY,
                                 .cause = cause,
                                 .reasons = reasons,
                                 .apart = true}));
    json_decref(reasons);
}
