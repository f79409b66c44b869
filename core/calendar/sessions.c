/* SPDX-License-Identifier: Apache-2.0 */
#include "core/calendar/sessions.h"

#include "core/calendar/expansion.h"

/* A rule by the second with a large COUNT has to be counted through; no plan that anyone follows is
 * longer. */
#define COUNTED_MAX 1000000

#define SESSION_DAYS_MAX 3700

/* Walks the dates of a plan in order. */
typedef struct {
    const SessionTimes *times;
    Rule rule;
    Expansion *expansion; /* NULL: the plan gives no dates */
    int counted;
    Day last; /* handed out last */
    bool any;
} Dates;

static void dates_open(Dates *dates, const SessionTimes *times)
{
    g_autofree char *why = NULL;

    memset(dates, 0, sizeof *dates);
    dates->times = times;
    if (times->n_times < 1 || times->n_times > SESSION_TIMES_MAX ||
        !rule_parse(times->rule != NULL ? times->rule : "FREQ=DAILY", &dates->rule, &why))
        return;
    dates->expansion = expansion_new(&dates->rule, (LocalTime){.day = times->from, .second = 0});
}

static void dates_close(Dates *dates)
{
    expansion_free(dates->expansion);
}

G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(Dates, dates_close)

/* With COUNT every match has to be counted; otherwise what lies before the date is passed over. */
static void dates_seek(Dates *dates, Day day)
{
    if (dates->expansion != NULL && dates->rule.count == 0) expansion_seek(dates->expansion, day);
}

/* The next date, each once. */
static bool dates_next(Dates *dates, Day *day)
{
    LocalTime local;
    int limit = dates->rule.count > 0 ? MIN(dates->rule.count, COUNTED_MAX) : G_MAXINT;

    if (dates->expansion == NULL) return false;
    if (dates->any) dates_seek(dates, dates->last + 1);
    do {
        if (dates->counted >= limit || !expansion_next(dates->expansion, &local)) return false;
        if (dates->rule.count > 0) dates->counted++;
    } while (dates->any && local.day == dates->last);
    if ((dates->times->to != 0 && local.day > dates->times->to) ||
        rule_over_by(&dates->rule, local.day))
        return false;
    dates->last = *day = local.day;
    dates->any = true;
    return true;
}

/* False where the zone has no such date or UNTIL has passed. */
static bool session_at(const Dates *dates, GTimeZone *zone, Day day, int slot,
                       SessionInstant *session)
{
    session->date = day;
    session->slot = slot;
    session->local = (LocalTime){.day = day, .second = dates->times->times[slot - 1]};
    session->ms = zone_instant(zone, session->local, &session->kind);
    return session->kind != LOCAL_MISSING && !rule_over(&dates->rule, session->local, session->ms);
}

static int by_instant(const void *a, const void *b)
{
    const SessionInstant *left = a;
    const SessionInstant *right = b;

    if (left->ms != right->ms) return left->ms < right->ms ? -1 : 1;
    if (left->date != right->date) return left->date < right->date ? -1 : 1;
    return left->slot - right->slot;
}

void sessions_on(const SessionTimes *times, GTimeZone *zone, Day from, int days, GArray *out)
{
    g_auto(Dates) dates;
    SessionInstant session;
    Day day;

    days = MIN(days, SESSION_DAYS_MAX);
    dates_open(&dates, times);
    dates_seek(&dates, from);
    while (dates_next(&dates, &day) && day - from < days)
        for (int slot = 1; day >= from && slot <= times->n_times; slot++)
            if (session_at(&dates, zone, day, slot, &session)) g_array_append_val(out, session);
    g_array_sort(out, by_instant);
}

bool sessions_after(const SessionTimes *times, GTimeZone *zone, int64_t ms, SessionInstant *next)
{
    g_auto(Dates) dates;
    SessionInstant session;
    Day day;
    bool found = false;

    dates_open(&dates, times);
    /* A clock change can carry a late session into the next date; hence one date early, and one
     * more once found. */
    dates_seek(&dates, zone_local(zone, ms).day - 1);
    while (dates_next(&dates, &day) && !(found && day > next->date + 1))
        for (int slot = 1; slot <= times->n_times; slot++)
            if (session_at(&dates, zone, day, slot, &session) && session.ms > ms &&
                (!found || by_instant(&session, next) < 0)) {
                *next = session;
                found = true;
            }
    return found;
}
