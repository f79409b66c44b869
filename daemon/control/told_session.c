/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/control/told_session.h"

#include <string.h>

#include "adapters/store/find.h"
#include "adapters/store/find_record.h"
#include "core/ledger/id.h"
#include "daemon/cli/cli.h"
#include "daemon/jobs/schedule.h"

#define LOOK_BACK_DAYS 35
#define LOOK_AHEAD_DAYS 8

/* The session of the plan, some weeks back to some days ahead, whose id begins so (g_free), or NULL. */
static char *find_planned(Job *job, const Person *person, const char *prefix, SessionInstant *found)
{
    Day today = zone_local(person_zone(job, person), job->now_ms).day;
    g_autoptr(GArray) planned = g_array_new(FALSE, FALSE, sizeof(SessionInstant));
    size_t length = strlen(prefix);

    if (!person_has_plan(person) || length == 0) return NULL;
    sessions_on(&person->times, person_zone(job, person), today - LOOK_BACK_DAYS,
                LOOK_BACK_DAYS + LOOK_AHEAD_DAYS, planned);
    for (guint i = 0; i < planned->len; i++) {
        const SessionInstant *instant = &g_array_index(planned, SessionInstant, i);
        g_autofree char *date = day_format(instant->date);
        g_autofree char *id = id_session(person->id, date, instant->slot);
        if (g_ascii_strncasecmp(id, prefix, length) != 0) continue;
        *found = *instant;
        return g_steal_pointer(&id);
    }
    return NULL;
}

/* A session by the beginning of its id: one that a row tells of, else one of the plan. NULL after
 * answering. */
static char *named_session(Job *job, Call *call, const Person *person, const char *named,
                           SessionInstant *instant, bool *planned)
{
    g_autofree char *id = NULL;
    int found = find_by_prefix(job->tx, TABLE_SESSION, named, &id);

    if (found == 0) {
        char *ahead = find_planned(job, person, named, instant);
        *planned = ahead != NULL;
        if (ahead == NULL)
            call_fail(call, EXIT_NO_SUCH, "session", named, "there is none of that id");
        return ahead;
    }
    if (found > 1) {
        call_fail(call, EXIT_NO_SUCH, "session", named, "several begin so; give more of the id");
        return NULL;
    }
    g_autoptr(Row) row = tx_get_text(job->tx, TABLE_SESSION, id);
    if (row != NULL && g_strcmp0(row_text(row, SESSION_CLIENT), person->id) == 0)
        return g_steal_pointer(&id);
    call_fail(call, EXIT_DATA, "session", named, "is another client's");
    return NULL;
}

/* As told_session, whether it has come or not. */
static char *of_options(Job *job, Call *call, const Person *person, SessionInstant *instant,
                        bool *planned)
{
    const char *named = call_text(call, "session");
    double slot = 1;
    Day date;
    bool there;

    *planned = false;
    if (named != NULL) return named_session(job, call, person, named, instant, planned);
    if (!call_day(call, "date", &date, &there) ||
        !call_number(call, "slot", 1, SESSION_TIMES_MAX, &slot, &there))
        return NULL;
    const char *text = call_need(call, "date", "--session S, or --date 2026-03-02 with --slot N");
    if (text == NULL) return NULL;
    g_autofree char *id = id_session(person->id, text, (int)slot);
    g_autoptr(Row) row = tx_get_text(job->tx, TABLE_SESSION, id);
    if (row != NULL) return g_steal_pointer(&id);
    if (!person_has_plan(person) || !schedule_find(job, person, date, (int)slot, instant)) {
        call_fail(call, EXIT_NO_SUCH, "session", text, "the plan has no such session");
        return NULL;
    }
    *planned = true;
    return g_steal_pointer(&id);
}

/* Nobody has done tomorrow's session: the date was mistyped. Answers 65 then. */
static bool has_come(Job *job, Call *call, const Person *person, const char *session,
                     const SessionInstant *planned)
{
    g_autoptr(Row) row = tx_get_text(job->tx, TABLE_SESSION, session);
    Day today = zone_local(person_zone(job, person), job->now_ms).day;
    Day date = today;

    if (planned != NULL)
        date = planned->date;
    else if (row != NULL)
        day_parse(row_text(row, SESSION_DATE), &date);
    if (date <= today) return true;
    g_autofree char *text = day_format(date);
    return call_fail(call, EXIT_DATA, "date", text, "is still to come for this client");
}

char *told_session(Job *job, Call *call, const Person *person, SessionInstant *instant,
                   bool *planned)
{
    g_autofree char *id = of_options(job, call, person, instant, planned);

    if (id == NULL || !has_come(job, call, person, id, *planned ? instant : NULL)) return NULL;
    return g_steal_pointer(&id);
}
