/* SPDX-License-Identifier: Apache-2.0 */
/* Calendar files: a client's sessions, and the clinic's review dates. */
#include "adapters/records/calendar.h"

#include "adapters/store/find_access.h"
#include "adapters/store/find_people.h"
#include "daemon/cli/cli.h"
#include "daemon/control/handlers.h"
#include "daemon/jobs/calendar.h"
#include "daemon/jobs/feed.h"

bool handle_calendar(Job *job, Call *call)
{
    g_autoptr(Person) person = call_person(job, call);

    if (person == NULL) return false;
    g_autofree char *file = calendar_for_client(job, person, job->now_ms);
    return call_ok(call, json_pack("{s:s, s:s}", "client", person->id, "calendar", file));
}

/* A link is for a page that others can reach, by TLS. */
bool handle_feed_make(Job *job, Call *call)
{
    g_autoptr(Person) person = call_person(job, call);
    g_autoptr(GPtrArray) accounts = find_accounts(job->tx);
    json_t *warnings = json_array();

    if (person == NULL || job->clinic->page_url == NULL) {
        json_decref(warnings);
        return person != NULL && call_fail(call, EXIT_SETTINGS, "page.url", "",
                                           "is not set: the page is not public, so nobody could "
                                           "follow a link; osier records calendar %s --out FILE "
                                           "gives a file",
                                           person->id);
    }
    g_autofree char *token = feed_make(job, person, call_author(call));
    g_autofree char *url = feed_url(job->clinic, token);
    if (accounts->len == 0)
        json_array_append_new(warnings,
                              json_string("the page is not served before somebody has an account: "
                                          "osier account add"));
    return call_ok(call, json_pack("{s:s, s:s, s:o}", "client", person->id, "link", url, "warnings",
                                   warnings));
}

bool handle_feed_revoke(Job *job, Call *call)
{
    g_autoptr(Person) person = call_person(job, call);

    if (person == NULL) return false;
    if (feed_revoke(job, person->id) == 0)
        return call_fail(call, EXIT_NO_SUCH, "link", person->id, "there is none to take back");
    return call_ok(call, json_pack("{s:s, s:b}", "client", person->id, "revoked", true));
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
        if (person == NULL || !person_has_plan(person) || person->review == NULL ||
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
