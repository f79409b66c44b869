/* SPDX-License-Identifier: Apache-2.0 */
#include "core/watch/duty.h"

#include <string.h>

#define TODAY_PACE_MS (2 * HOUR_MS)

static bool away_on(const DutyPerson *person, Day day)
{
    for (guint i = 0; person->away != NULL && i < person->away->len; i++) {
        const DaySpan *span = &g_array_index(person->away, DaySpan, i);
        if (day >= span->from && day <= span->to) return true;
    }
    return false;
}

/* The people in the order of calling: the treating clinician first, those away left out (unless
 * that leaves nobody). */
static GPtrArray *calling_order(const Clinic *clinic, const char *treating, Day day, bool with_away)
{
    GPtrArray *order = g_ptr_array_new();

    for (int pass = 0; pass < 2; pass++)
        for (guint i = 0; i < clinic->duty->len; i++) {
            DutyPerson *person = clinic->duty->pdata[i];
            bool treats = treating != NULL && strcmp(person->name, treating) == 0;
            if (treats == (pass == 0) && (with_away || !away_on(person, day)))
                g_ptr_array_add(order, person);
        }
    if (order->len == 0 && !with_away && clinic->duty->len > 0) {
        g_ptr_array_unref(order);
        return calling_order(clinic, treating, day, true);
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

bool duty_next(const Clinic *clinic, GTimeZone *zone, AlertClass class, const char *treating,
               int64_t now_ms, int passed, int64_t last_ms, DutyCall *call)
{
    if (class != ALERT_NOW && class != ALERT_TODAY) return false;
    g_autoptr(GPtrArray) order =
        calling_order(clinic, treating, zone_local(zone, now_ms).day, false);
    if (order->len == 0) return false;

    int place = passed % (int)order->len;
    const DutyPerson *person = order->pdata[place];
    int64_t at = now_ms;
    if (passed > 0) {
        int64_t pace = place == 0 ? clinic->again_ms : person->after_ms;
        if (class == ALERT_TODAY) pace = MAX(pace, TODAY_PACE_MS);
        at = MAX(last_ms + pace, now_ms);
    }
    *call = (DutyCall){.person = person,
                       .at_ms = class == ALERT_TODAY ? into_hours(clinic, zone, at) : at,
                       .again = passed > 0 && place == 0};
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
