/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/records/calendar.h"

#include <libical/ical.h>
#include <string.h>

#include "adapters/records/calendar_zone.h"

/* How far single instances are looked at, and how far the zone's changes are written. */
#define LOOK_DAYS 730
#define ZONE_DAYS 3650
#define RULE_DAYS_MAX 3700

static icaltimetype time_of(LocalTime local)
{
    int year, month, mday;

    day_to_civil(local.day, &year, &month, &mday);
    return (icaltimetype){.year = year,
                          .month = month,
                          .day = mday,
                          .hour = local.second / 3600,
                          .minute = local.second / 60 % 60,
                          .second = local.second % 60};
}

/* With the zone that says so in the file. */
static icaltimetype utc_of(int64_t ms)
{
    int64_t seconds = divide_down(ms, SECOND_MS);
    icaltimetype time = time_of(
        (LocalTime){.day = (Day)divide_down(seconds, 86400), .second = (int32_t)(seconds % 86400)});

    time.zone = icaltimezone_get_utc_timezone();
    return time;
}

static void add_zoned(icalcomponent *event, icalproperty *property, const char *zone_id)
{
    icalproperty_add_parameter(property, icalparameter_new_tzid(zone_id));
    icalcomponent_add_property(event, property);
}

static icalcomponent *new_calendar(const char *name, const char *uid, int64_t now_ms)
{
    icalcomponent *calendar = icalcomponent_new_vcalendar();

    icalcomponent_add_property(calendar, icalproperty_new_version("2.0"));
    icalcomponent_add_property(calendar, icalproperty_new_prodid("-//osier//records//EN"));
    icalcomponent_add_property(calendar, icalproperty_new_uid(uid));
    icalcomponent_add_property(calendar, icalproperty_new_name(name));
    icalcomponent_add_property(calendar, icalproperty_new_lastmodified(utc_of(now_ms)));
    icalcomponent_add_property(
        calendar, icalproperty_new_refreshinterval(icaldurationtype_from_int(12 * 3600)));
    return calendar;
}

static char *written(icalcomponent *calendar)
{
    char *text = icalcomponent_as_ical_string_r(calendar);
    char *own = g_strdup(text);

    icalmemory_free_buffer(text);
    icalcomponent_free(calendar);
    return own;
}

static void add_alarm(icalcomponent *event, const char *summary)
{
    icalcomponent *alarm = icalcomponent_new_valarm();
    struct icaltriggertype at_start = {.duration = icaldurationtype_from_int(0)};

    icalcomponent_add_property(alarm, icalproperty_new_action(ICAL_ACTION_DISPLAY));
    icalcomponent_add_property(alarm, icalproperty_new_trigger(at_start));
    icalcomponent_add_property(alarm, icalproperty_new_description(summary));
    icalcomponent_add_component(event, alarm);
}

/* An event without its start. */
static icalcomponent *new_event(const CalendarPlan *plan, const char *uid)
{
    icalcomponent *event = icalcomponent_new_vevent();

    icalcomponent_add_property(event, icalproperty_new_uid(uid));
    icalcomponent_add_property(event, icalproperty_new_dtstamp(utc_of(plan->now_ms)));
    icalcomponent_add_property(event, icalproperty_new_summary(plan->summary));
    if (plan->text != NULL)
        icalcomponent_add_property(event, icalproperty_new_description(plan->text));
    icalcomponent_add_property(event,
                               icalproperty_new_duration(icaldurationtype_from_int(15 * 60)));
    icalcomponent_add_property(event, icalproperty_new_transp(ICAL_TRANSP_TRANSPARENT));
    icalcomponent_add_property(event, icalproperty_new_class(ICAL_CLASS_PRIVATE));
    add_alarm(event, plan->summary);
    return event;
}

/* --- the rule --------------------------------------------------------------------------------- */

/* The rule without its UNTIL, which says local or UTC as its writer liked; *had tells whether there was one (g_free). */
static char *without_until(const char *rule, bool *had)
{
    g_auto(GStrv) parts = g_strsplit(rule, ";", -1);
    GString *rest = g_string_new(NULL);

    *had = false;
    for (int i = 0; parts[i] != NULL; i++) {
        if (g_ascii_strncasecmp(parts[i], "UNTIL=", 6) == 0) {
            *had = true;
            continue;
        }
        g_string_append_printf(rest, "%s%s", rest->len > 0 ? ";" : "", parts[i]);
    }
    return g_string_free(rest, FALSE);
}

/* The rule for one slot; an end is written as the instant of the slot's last session, in UTC. */
static struct icalrecurrencetype rule_of(const CalendarPlan *plan, const GArray *sessions, int slot)
{
    bool ends = false;
    g_autofree char *rest =
        without_until(plan->times->rule != NULL ? plan->times->rule : "FREQ=DAILY", &ends);
    struct icalrecurrencetype rule = icalrecurrencetype_from_string(rest);

    if (!ends && plan->times->to == 0) return rule;
    rule.count = 0;
    for (guint i = 0; i < sessions->len; i++) {
        const SessionInstant *session = &g_array_index(sessions, SessionInstant, i);
        if (session->slot == slot) rule.until = utc_of(session->ms);
    }
    return rule;
}

/* --- single instances ------------------------------------------------------------------------- */

static void except(const CalendarPlan *plan, icalcomponent *event, LocalTime local)
{
    add_zoned(event, icalproperty_new_exdate(time_of(local)), plan->zone_id);
}

/* Out of the series, and as an event of its own. */
static void set_apart(const CalendarPlan *plan, icalcomponent *calendar, icalcomponent *event,
                      const SessionInstant *session)
{
    g_autofree char *date = day_format(session->date);
    g_autofree char *uid =
        g_strdup_printf("%s-%d-%s@osier.example", plan->client, session->slot, date);
    icalcomponent *single = new_event(plan, uid);

    except(plan, event, session->local);
    icalcomponent_add_property(single, icalproperty_new_dtstart(utc_of(session->ms)));
    icalcomponent_add_component(calendar, single);
}

static void add_slot(const CalendarPlan *plan, icalcomponent *calendar, const GArray *sessions,
                     int slot)
{
    g_autofree char *uid = g_strdup_printf("%s-%d@osier.example", plan->client, slot);
    icalcomponent *event = NULL;
    Day first = 0;

    for (guint i = 0; i < sessions->len; i++) {
        const SessionInstant *session = &g_array_index(sessions, SessionInstant, i);
        if (session->slot != slot) continue;
        if (event == NULL) {
            first = session->date;
            event = new_event(plan, uid);
            add_zoned(event, icalproperty_new_dtstart(time_of(session->local)), plan->zone_id);
            icalcomponent_add_property(event,
                                       icalproperty_new_rrule(rule_of(plan, sessions, slot)));
        }
        if (session->kind != LOCAL_PLAIN && session->date < first + LOOK_DAYS)
            set_apart(plan, calendar, event, session);
    }
    if (event == NULL) return;
    icalcomponent_add_component(calendar, event);
}

/* --- all -------------------------------------------------------------------------------------- */

char *calendar_sessions(const CalendarPlan *plan)
{
    g_autofree char *uid = g_strconcat(plan->client, "@osier.example", NULL);
    icalcomponent *calendar = new_calendar(plan->name, uid, plan->now_ms);
    g_autoptr(GArray) sessions = g_array_new(FALSE, FALSE, sizeof(SessionInstant));

    if (plan->source != NULL)
        icalcomponent_add_property(calendar, icalproperty_new_source(plan->source));
    if (plan->times->n_times > 0)
        sessions_on(plan->times, plan->zone, plan->times->from, RULE_DAYS_MAX, sessions);
    if (sessions->len > 0)
        icalcomponent_add_component(
            calendar, calendar_zone(plan->zone_id, plan->zone, plan->times->from, ZONE_DAYS));
    for (int slot = 1; slot <= plan->times->n_times; slot++)
        add_slot(plan, calendar, sessions, slot);
    return written(calendar);
}

char *calendar_reviews(const char *name, const GArray *reviews, int64_t now_ms)
{
    icalcomponent *calendar = new_calendar(name, "reviews@osier.example", now_ms);

    for (guint i = 0; i < reviews->len; i++) {
        const CalendarReview *review = &g_array_index(reviews, CalendarReview, i);
        g_autofree char *uid = g_strconcat(review->client, "-review@osier.example", NULL);
        icaltimetype date = time_of((LocalTime){.day = review->review});
        icalcomponent *event = icalcomponent_new_vevent();

        date.is_date = 1;
        icalcomponent_add_property(event, icalproperty_new_uid(uid));
        icalcomponent_add_property(event, icalproperty_new_dtstamp(utc_of(now_ms)));
        icalcomponent_add_property(event, icalproperty_new_dtstart(date));
        icalcomponent_add_property(event, icalproperty_new_summary(review->summary));
        icalcomponent_add_property(event, icalproperty_new_transp(ICAL_TRANSP_TRANSPARENT));
        icalcomponent_add_component(calendar, event);
    }
    return written(calendar);
}
