/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/jobs/same.h"

#include <string.h>

#include "adapters/store/find_work.h"
#include "daemon/jobs/course.h"
#include "daemon/jobs/schedule.h"
#include "daemon/jobs/takeover.h"

/* What the planner set for the client as a whole it sets anew; what a session, a pause or a question waits for stays due. */
static void move_due(Job *job, const char *from, const char *to)
{
    due_drop(job->tx, "session", from);
    due_drop(job->tx, "course", from);
    tx_change(job->tx, "UPDATE due SET client = ?2 WHERE client = ?1", "tt", from, to);
}

/* Reminders and nudges that wait: the client is asked once, by what is planned from now on. */
static void lapse_reminders(Job *job, const char *client)
{
    g_autoptr(GPtrArray) rows = tx_rows(
        job->tx, TABLE_OUTBOX,
        "client = ?1 AND state = 'waiting' AND kind IN ('reminder', 'nudge') ORDER BY at, id", "t",
        client);

    for (guint i = 0; i < rows->len; i++)
        takeover_lapse(job, rows->pdata[i], "the client was entered twice, and is asked once");
}

static void move_outbox(Job *job, const char *from, const char *to)
{
    lapse_reminders(job, from);
    tx_change(job->tx, "UPDATE outbox SET client = ?2 WHERE client = ?1", "tt", from, to);
}

void same_settle(Job *job, const char *client)
{
    tx_catch_up(job->tx);
    g_autofree char *one = g_strdup(tx_one(job->tx, client));
    g_autoptr(GPtrArray) ids = tx_all_of(job->tx, client);

    for (guint i = 0; i < ids->len; i++) {
        if (strcmp(ids->pdata[i], one) == 0) continue;
        move_due(job, ids->pdata[i], one);
        move_outbox(job, ids->pdata[i], one);
    }
    if (!job->sender) return;
    g_autoptr(Person) person = person_load(job, one);
    if (person == NULL) return;
    takeover_pauses(job, person);
    schedule_next(job, person, job->now_ms - 1);
    course_next(job, person);
}
