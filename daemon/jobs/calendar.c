/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/jobs/calendar.h"

#include "adapters/records/calendar.h"
#include "daemon/jobs/words.h"

static char *file_of(Job *job, const Person *person, CalendarPlan plan)
{
    const SessionTimes none = {0};

    plan.zone_id = person->zone;
    plan.zone = person_zone(job, person);
    /* An alarm in a calendar asks for stretching as a text does. */
    bool asks = person_has_plan(person) && !person->held && !person->suspended && !person->paused &&
                !person->stopped;
    plan.times = asks ? &person->times : &none;
    return calendar_sessions(&plan);
}

char *calendar_for_client(Job *job, const Person *person, int64_t at_ms)
{
    Worded title = {0}, text = {0};

    words_key(job, person, person->channel, "subject-reminder", &title);
    words_key(job, person, person->channel,
              person->channel == CHANNEL_EMAIL ? "reminder-mail" : "reminder", &text);
    char *file = file_of(job, person,
                         (CalendarPlan){.client = person->id,
                                        .name = job->clinic->name,
                                        .summary = title.text,
                                        .text = text.text,
                                        .now_ms = at_ms});
    worded_clear(&title);
    worded_clear(&text);
    return file;
}

char *calendar_for_feed(Job *job, const Person *person, const char *uid, const char *source)
{
    Worded title = {0};

    words_key(job, person, person->channel, "calendar-session", &title);
    char *file = file_of(job, person,
                         (CalendarPlan){.client = uid,
                                        .name = title.text,
                                        .summary = title.text,
                                        .source = source,
                                        .now_ms = job->now_ms});
    worded_clear(&title);
    return file;
}
