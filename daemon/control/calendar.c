/* SPDX-License-Identifier: Apache-2.0 */
/* Calendar files: a client's sessions, and the clinic's review dates. */
#include "adapters/records/calendar.h"

#include "adapters/store/find_people.h"
#include "daemon/control/handlers.h"
#include "daemon/jobs/words.h"

char *calendar_of(Job *job, const Person *person, const char *source)
{
    Worded title = {0}, text = {0};

    words_key(job, person, "subject-reminder", &title);
    words_reminder(job, person, &text);
    const CalendarPlan plan = {.client = person->id,
                               .name = job->clinic->name,
                               .summary = title.text,
                               .text = text.text,
                               .source = source,
                               .zone_id = person->zone,
                               .zone = person_zone(job, person),
                               .times = &person->times,
                               .now_ms = job->now_ms};
    const SessionTimes none = {0};
    CalendarPlan shown = plan;
    if (!person_has_plan(person)) shown.times = &none;
    char *file = calendar_sessions(&shown);
    worded_clear(&title);
    worded_clear(&text);
    return file;
}

bool handle_calendar(Job *job, Call *call)
{
    g_autoptr(Person) person = call_person(job, call);

    if (person == NULL) return false;
    g_autofree char *file = calendar_of(job, person, NULL);
    return call_ok(call, json_pack("{s:s, s:s}", "client", person->id, "calendar", file));
}

/* The clinic's view: initials and id alone, for calendars are shared. */
bool handle_reviews(Job *job, Call *call)
{
    g_autoptr(GPtrArray) ids = find_clients(job->tx);
    g_autoptr(GArray) reviews = g_array_new(FALSE, FALSE, sizeof(CalendarReview));
    g_autoptr(GPtrArray) kept = g_ptr_array_new_with_free_func(g_free);
    g_autofree char *name = g_strconcat(job->clinic->name, ": reviews", NULL);

    for (guint i = 0; i < ids->len; i++) {
        g_autoptr(Person) person = person_load(job, ids->pdata[i]);
        CalendarReview review = {.client = ids->pdata[i]};
        if (!person_has_plan(person) || person->review == NULL ||
            !day_parse(person->review, &review.review))
            continue;
        g_autofree char *initials = person_initials(person);
        char *summary = g_strdup_printf("Review: %s (%s)", initials, person->id);
        g_ptr_array_add(kept, summary);
        review.summary = summary;
        g_array_append_val(reviews, review);
    }
    g_autofree char *file = calendar_reviews(name, reviews, job->now_ms);
    return call_ok(call, json_pack("{s:i, s:s}", "reviews", (int)reviews->len, "calendar", file));
}
