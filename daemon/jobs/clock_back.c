/* SPDX-License-Identifier: Apache-2.0 */
/* Due instants are on the wall clock. A clock that ran a year ahead until somebody mended it would leave an alert waiting for a
 * year. */
#include "daemon/jobs/clock_back.h"

#include "adapters/store/find_work.h"
#include "daemon/jobs/alert.h"

/* As much sooner as the clock was set back, but not in the past. */
static int64_t sooner(const Job *job, int64_t at_ms, int64_t by_ms)
{
    return at_ms <= job->now_ms ? at_ms : MAX(job->now_ms, at_ms - by_ms);
}

static void move(Job *job, const char *kind, int64_t by_ms)
{
    g_autoptr(GPtrArray) due = find_due_kind(job->tx, kind);

    for (guint i = 0; i < due->len; i++) {
        const Row *row = due->pdata[i];
        due_set(job->tx, kind, row_text(row, DUE_KEY), sooner(job, row_int(row, DUE_AT), by_ms),
                row_text(row, DUE_CLIENT), row_text(row, DUE_BODY));
    }
}

/* What waits for a time of day (the clinic's hours) keeps it, unless that was worked out by the wrong clock; and a session is
 * asked for at its time by any clock. */
static bool keeps_its_time(const Job *job, const Row *row)
{
    static const char *const AT_THEIR_TIME[] = {"reminder", "nudge", NULL};

    return row_int(row, OUTBOX_ATTEMPTS) == 0 &&
           (row_int(row, OUTBOX_AT) <= job->now_ms ||
            g_strv_contains(AT_THEIR_TIME, row_text(row, OUTBOX_KIND)));
}

static void hasten(Job *job, int64_t by_ms)
{
    g_autoptr(GPtrArray) waiting = find_outbox(job->tx, "waiting");

    for (guint i = 0; i < waiting->len; i++) {
        Row *row = waiting->pdata[i];
        int64_t at_ms = row_int(row, OUTBOX_NEXT_AT);
        if (keeps_its_time(job, row)) continue;
        if (sooner(job, at_ms, by_ms) == at_ms) continue;
        row_set_int(row, OUTBOX_NEXT_AT, sooner(job, at_ms, by_ms));
        tx_put(job->tx, row);
        job->posted = true;
    }
}

void clock_set_back(Job *job, int64_t by_ms)
{
    move(job, "alert",
         INT64_MAX / 2); /* looked at again at once: whom to call then follows from the list */
    move(job, "taken", by_ms);
    move(job, "pain", by_ms);
    move(job, "unread", by_ms);
    hasten(job, by_ms);
}

/* Rows of that kind that are further off than it ever waits come after that wait, counted from now. */
static void bound(Job *job, const char *kind, int64_t most_ms, int64_t wait_ms)
{
    g_autoptr(GPtrArray) due = find_due_kind(job->tx, kind);

    for (guint i = 0; i < due->len; i++) {
        const Row *row = due->pdata[i];
        if (row_int(row, DUE_AT) > job->now_ms + most_ms)
            due_set(job->tx, kind, row_text(row, DUE_KEY), job->now_ms + wait_ms,
                    row_text(row, DUE_CLIENT), row_text(row, DUE_BODY));
    }
}

void clock_bound_waits(Job *job)
{
    bound(job, "alert", 0, 0); /* looked at again: whom to call when follows from the list */
    bound(job, "taken", ALERT_OUTCOME_WANTED_MS, ALERT_OUTCOME_WANTED_MS);
    bound(job, "pain", DAY_MS, DAY_MS);
    bound(job, "unread", DAY_MS, DAY_MS);
}
