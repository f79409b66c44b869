/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/planner.h"

#include <string.h>

#include "adapters/store/find_work.h"
#include "core/ledger/id.h"
#include "daemon/jobs/ahead.h"
#include "daemon/jobs/alert.h"
#include "daemon/jobs/course.h"
#include "daemon/jobs/digest.h"
#include "daemon/jobs/keep.h"
#include "daemon/jobs/reply.h"
#include "daemon/jobs/schedule.h"
#include "daemon/weekly.h"

#define PAGE 256
/* The next page waits in the queue while one is run, so that the store need not wait for the loop. */
#define PAGES_AT_ONCE 2
#define FULL_WAIT_MS (30 * SECOND_MS)

struct Planner {
    Desk *desk;
    Painter *painter;
    Relay *relay;
    Timer *timer;
    int pages; /* under way */
    bool stopped;
};

/* One page of what is due; the store thread's until it is done. */
typedef struct {
    Planner *planner;
    DigestDraft *draft; /* what it began, or NULL */
    Grant *grant;       /* for the reminders that it makes, or NULL */
    bool full;          /* there may be more */
} PageErrand;

/* Did the question how strong the pain is get out? */
static bool was_asked(Job *job, const char *session)
{
    g_autofree char *purpose = g_strconcat("question-pain/", session, NULL);
    g_autofree char *id = id_message(purpose);
    g_autoptr(Row) message = tx_get_text(job->tx, TABLE_MESSAGE, id);
    const char *fate = message != NULL ? row_text(message, MESSAGE_FATE) : NULL;

    return g_strcmp0(fate, "accepted") == 0 || g_strcmp0(fate, "delivered") == 0;
}

/* "some" pain was asked about and no number came. */
static void pain_unanswered(Job *job, const Row *due)
{
    const char *session = row_text(due, DUE_KEY);
    g_autoptr(Person) person = person_load(job, row_text(due, DUE_CLIENT));

    due_drop(job->tx, "pain", session);
    if (person == NULL) return;
    json_t *reasons = json_array();
    json_array_append_new(reasons, reason_words("pain", "some",
                                                was_asked(job, session)
                                                    ? "asked how strong, and no answer came"
                                                    : "osier could not ask how strong"));
    g_free(alert_open(job, person,
                      &(Opening){.kind = "pain",
                                 .class = ALERT_TODAY,
                                 .hold = true,
                                 .cause = row_text(due, DUE_BODY),
                                 .reasons = reasons}));
    json_decref(reasons);
}

static void begin_digest(Job *job, PageErrand *page)
{
    digest_draft_free(page->draft);
    page->draft = digest_begin(job);
}

static void meet(Job *job, PageErrand *page, const Row *due)
{
    const char *kind = row_text(due, DUE_KIND);
    const char *key = row_text(due, DUE_KEY);
    const char *client = row_text(due, DUE_CLIENT);
    const char *body = row_text(due, DUE_BODY);

    if (strcmp(kind, "session") == 0)
        schedule_session(job, key, body);
    else if (strcmp(kind, "nudge") == 0)
        schedule_nudge(job, key);
    else if (strcmp(kind, "silent") == 0)
        schedule_silent(job, key);
    else if (strcmp(kind, "call") == 0)
        schedule_call(job, client, key, body);
    else if (strcmp(kind, "pause") == 0)
        schedule_pause_over(job, client, key);
    else if (strcmp(kind, "pain") == 0)
        pain_unanswered(job, due);
    else if (strcmp(kind, "alert") == 0)
        alert_pass_on(job, key);
    else if (strcmp(kind, "taken") == 0)
        alert_taken_late(job, key);
    else if (strcmp(kind, "unread") == 0)
        reply_waited(job, key);
    else if (strcmp(kind, "course") == 0)
        course_meet(job, key);
    else if (strcmp(kind, "digest") == 0)
        begin_digest(job, page);
    else if (strcmp(kind, "keep") == 0)
        keep_meet(job, row_int(due, DUE_AT));
    else
        due_drop(job->tx, kind, key); /* left by another version: nothing knows what it was for */
}

static bool page_job(Job *job, void *context)
{
    PageErrand *page = context;

    if (!job->sender) return true;
    g_autoptr(GPtrArray) due = find_due(job->tx, job->now_ms, PAGE);
    job->grant = page->grant;
    ahead_of_due(job, due);
    for (guint i = 0; i < due->len; i++)
        meet(job, page, due->pdata[i]);
    ahead_end(job);
    page->full = due->len == PAGE;
    return true;
}

static void work(Planner *planner, int pages);

static void page_done(StoreStatus status, void *context)
{
    PageErrand *page = context;
    Planner *planner = page->planner;

    planner->pages--;
    relay_granted(planner->relay, page->grant, status == STORE_OK);
    if (page->draft != NULL && status == STORE_OK)
        weekly_send(planner->desk, planner->painter, g_steal_pointer(&page->draft));
    digest_draft_free(page->draft);
    if (store_passes(status))
        timer_set(planner->timer, clock_now(desk_clock(planner->desk)) + FULL_WAIT_MS);
    else if (status == STORE_OK && page->full)
        work(planner, PAGES_AT_ONCE);
    g_free(page);
}

/* Sees to it that so many pages are under way. */
static void work(Planner *planner, int pages)
{
    while (planner->pages < pages && !planner->stopped) {
        PageErrand *page = g_new0(PageErrand, 1);
        page->planner = planner;
        page->grant = relay_grant(planner->relay, PAGE);
        planner->pages++;
        desk_submit(planner->desk, page_job, page_done, page);
    }
}

static void on_timer(void *context)
{
    work(context, 1);
}

void planner_next(Planner *planner, int64_t due_ms)
{
    if (planner->stopped) return;
    if (due_ms <= clock_now(desk_clock(planner->desk))) {
        timer_set(planner->timer, CLOCK_NEVER);
        work(planner, 1);
    } else {
        timer_set(planner->timer, due_ms);
    }
}

Planner *planner_new(Desk *desk, Painter *painter, Relay *relay)
{
    Planner *planner = g_new0(Planner, 1);

    planner->desk = desk;
    planner->painter = painter;
    planner->relay = relay;
    planner->timer = timer_new(desk_clock(desk), on_timer, planner);
    return planner;
}

void planner_stop(Planner *planner)
{
    planner->stopped = true;
    timer_set(planner->timer, CLOCK_NEVER);
}

void planner_free(Planner *planner)
{
    if (planner == NULL) return;
    timer_free(planner->timer);
    g_free(planner);
}
