/* SPDX-License-Identifier: Apache-2.0 */
#include "core/calendar/sessions.h"

#include "core/calendar/expansion.h"
#include "core/calendar/plain_rule.h"

/* A rule by the second with a large COUNT has to be counted through; no plan that anyone follows is
 * longer. */
#define COUNTED_MAX 1000000

#define SESSION_DAYS_MAX 3700

/* Walks the dates of a plan in order. */
typedef struct {
    const SessionTimes *times;
    bool is_plain;
    PlainRule plain;
    Day seek;             /* plain: no date before it */
    Rule *rule;           /* not plain; NULL: the plan gives no dates */
    Expansion *expansion; /* the same */
    int counted;
    Day last; /* handed out last */
    bool any;
} Dates;

static void dates_open(Dates *dates, const SessionTimes *times)
{
    g_autofree char *why = NULL;

    memset(dates, 0, sizeof *dates);
    dates->times = times;
    if (times->n_times < 1 || times->n_times > SESSION_TIMES_MAX) return;
    dates->seek = times->from;
    dates->is_plain = plain_rule_read(times->rule, times->from, &dates->plain);
    if (dates->is_plain) return;
    dates->rule = g_new0(Rule, 1);
    if (rule_parse(times->rule, dates->rule, &why))
        dates->expansion = expansion_new(dates->rule, (LocalTime){.day = times->from, .second = 0});
}

static void dates_close(Dates *dates)
{
    expansion_free(dates->expansion);
    g_free(dates->rule);
}

G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(Dates, dates_close)

/* With COUNT every match has to be counted; otherwise what lies before the date is passed over. */
static void dates_seek(Dates *dates, Day day)
{
    dates->seek = MAX(dates->seek, day);
    if (dates->expansion != NULL && dates->rule->count == 0) expansion_seek(dates->expansion, day);
}

/* The next match of a rule that is not plain, each date once. */
static bool next_match(Dates *dates, Day *day)
{
    LocalTime local;
    int limit = dates->rule->count > 0 ? MIN(dates->rule->count, COUNTED_MAX) : G_MAXINT;

    if (dates->any) dates_seek(dates, dates->last + 1);
    do {
        if (dates->counted >= limit || !expansion_next(dates->expansion, &local)) return false;
        if (dates->rule->count > 0) dates->counted++;
    } while (dates->any && local.day == dates->last);
    *day = local.day;
    return !rule_over_by(dates->rule, local.day);
}

/* The next date, each once. */
static bool dates_next(Dates *dates, Day *day)
{
    if (dates->is_plain) {
        if (!plain_rule_next(&dates->plain, dates->seek, day)) return false;
        dates->seek = *day + 1;
    } else if (dates->expansion == NULL || !next_match(dates, day)) {
        return false;
    }
    if (dates->times->to != 0 && *day > dates->times->to) return false;
    dates->last = *day;
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
    session->ms = dates->times->near != NULL
                      ? zone_instant_near(dates->times->near, zone, session->local, &session->kind)
                      : zone_instant(zone, session->local, &session->kind);
    return session->kind != LOCAL_MISSING &&
           (dates->is_plain || !rule_over(dates->rule, session->local, session->ms));
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
    LocalTime local =
        times->near != NULL ? zone_local_near(times->near, zone, ms) : zone_local(zone, ms);
    dates_seek(&dates, local.day - 1);
    while (dates_next(&dates, &day) && !(found && day > next->date + 1))
        for (int slot = 1; slot <= times->n_times; slot++)
            if (session_at(&dates, zone, day, slot, &session) && session.ms > ms &&
                (!found || by_instant(&session, next) < 0)) {
                *next = session;
                found = true;
            }
    return found;
}
