/* SPDX-License-Identifier: Apache-2.0 */
#include "core/watch/duty.h"

#include <string.h>

#define TODAY_PACE_MS (2 * HOUR_MS)
#define TODAY_ROUNDS                                                                               \
    2 /* through the list at that pace; then once on each day on which the clinic is open */

static bool away_on(const DutyPerson *person, Day day)
{
    for (guint i = 0; person->away != NULL && i < person->away->len; i++) {
        const DaySpan *span = &g_array_index(person->away, DaySpan, i);
        if (day >= span->from && day <= span->to) return true;
    }
    return false;
}

/* The people in the order of calling: the treating clinician first. */
static GPtrArray *calling_order(const Clinic *clinic, const DutyCase *alert, Day day,
                                bool with_away, bool with_taker)
{
    GPtrArray *order = g_ptr_array_new();

    for (int pass = 0; pass < 2; pass++)
        for (guint i = 0; i < clinic->duty->len; i++) {
            DutyPerson *person = clinic->duty->pdata[i];
            bool treats = g_strcmp0(person->name, alert->treating) == 0;
            bool took = g_strcmp0(person->name, alert->taker) == 0;
            if (treats == (pass == 0) && (with_away || !away_on(person, day)) &&
                (with_taker || !took))
                g_ptr_array_add(order, person);
        }
    return order;
}

/* Who is there and has not taken it; else who took it; else everybody, away or not. */
static GPtrArray *people_to_call(const Clinic *clinic, const DutyCase *alert, Day day)
{
    GPtrArray *order = calling_order(clinic, alert, day, false, false);

    for (int wider = 0; wider < 2 && order->len == 0; wider++) {
        g_ptr_array_unref(order);
        order = calling_order(clinic, alert, day, wider == 1, true);
    }
    return order;
}

static int64_t into_hours(const Clinic *clinic, GTimeZone *zone, int64_t ms)
{
    LocalTime local = zone_local(zone, ms);
    LocalTime open;

    if (clinic_open(clinic, local) || !clinic_next_open(clinic, local, &open)) return ms;
    return zone_instant(zone, open, NULL);
}

static int64_t opening_after(const Clinic *clinic, GTimeZone *zone, int64_t ms)
{
    LocalTime next_day = {zone_local(zone, ms).day + 1, 0};

    return into_hours(clinic, zone, zone_instant(zone, next_day, NULL));
}

/* The instant of the call in that place of the list, which is people long. */
static int64_t call_at(const Clinic *clinic, GTimeZone *zone, const DutyCase *alert, int64_t now_ms,
                       const DutyPerson *person, int people)
{
    bool today = alert->class == ALERT_TODAY;
    int64_t at = now_ms;

    if (today && alert->passed >= TODAY_ROUNDS * people) {
        at = opening_after(clinic, zone, alert->last_ms);
    } else if (alert->passed > 0) {
        int64_t pace = alert->passed % people == 0 ? clinic->again_ms : person->after_ms;
        at = alert->last_ms + (today ? MAX(pace, TODAY_PACE_MS) : pace);
    }
    at = MAX(at, now_ms);
    return today ? into_hours(clinic, zone, at) : at;
}

bool duty_next(const Clinic *clinic, GTimeZone *zone, const DutyCase *alert, int64_t now_ms,
               DutyCall *call)
{
    if (alert->class != ALERT_NOW && alert->class != ALERT_TODAY) return false;
    g_autoptr(GPtrArray) order = people_to_call(clinic, alert, zone_local(zone, now_ms).day);
    if (order->len == 0) return false;

    int place = alert->passed % (int)order->len;
    const DutyPerson *person = order->pdata[place];
    *call = (DutyCall){.person = person,
                       .at_ms = call_at(clinic, zone, alert, now_ms, person, (int)order->len),
                       .again = alert->passed > 0 && place == 0};
    return true;
}

const DutyPerson *duty_by_number(const Clinic *clinic, const char *number)
{
    for (guint i = 0; number != NULL && i < clinic->duty->len; i++) {
        const DutyPerson *person = clinic->duty->pdata[i];
        if (g_strcmp0(person->sms, number) == 0) return person;
    }
    return NULL;
}
