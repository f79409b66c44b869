/* SPDX-License-Identifier: Apache-2.0 */
#include "core/clinic/hours.h"

enum { DAY_SECONDS = 86400, YEAR_DAYS = 366 };

int weekday_parse(const char *text)
{
    static const char *const DAYS[] = {"monday", "tuesday",  "wednesday", "thursday",
                                       "friday", "saturday", "sunday"};

    for (int i = 0; i < 7; i++)
        if (strcmp(text, DAYS[i]) == 0 || (strlen(text) == 3 && g_str_has_prefix(DAYS[i], text)))
            return i + 1;
    return 0;
}

/* Marks the days of "fri" or "mon-fri" (which may pass the week's end, "sat-mon"). */
static bool mark_days(const char *text, bool days[8])
{
    g_auto(GStrv) ends = g_strsplit(text, "-", 3);
    int count = (int)g_strv_length(ends);
    int from = count >= 1 ? weekday_parse(g_strstrip(ends[0])) : 0;
    int to = count == 2 ? weekday_parse(g_strstrip(ends[1])) : from;

    if (count > 2 || from == 0 || to == 0) return false;
    for (int day = from;; day = day % 7 + 1) {
        days[day] = true;
        if (day == to) return true;
    }
}

/* "mon-fri", "sat", "mon,wed". */
static bool parse_days(const char *text, bool days[8])
{
    g_auto(GStrv) parts = g_strsplit(text, ",", 8);

    for (guint i = 0; parts[i] != NULL; i++)
        if (!mark_days(parts[i], days)) return false;
    return parts[0] != NULL;
}

/* "08:30-17:30", "08:00-24:00" or "closed". */
static bool parse_open(const char *text, OpenHours *hours)
{
    *hours = (OpenHours){0, 0};
    if (strcmp(text, "closed") == 0) return true;
    g_auto(GStrv) ends = g_strsplit(text, "-", 3);
    if (g_strv_length(ends) != 2 || !clock_time_parse(ends[0], &hours->open)) return false;
    if (strcmp(ends[1], "24:00") == 0)
        hours->close = DAY_SECONDS;
    else if (!clock_time_parse(ends[1], &hours->close))
        return false;
    return hours->open < hours->close;
}

void hours_read(const Section *clinic, OpenHours hours[8])
{
    json_t *object =
        fault_object(clinic->faults, clinic->pointer, clinic->object, "hours", clinic->given);
    g_autofree char *place = fault_pointer(clinic->pointer, "hours");
    bool said[8] = {false}, ever = false;
    const char *key;
    json_t *value;

    json_object_foreach(object, key, value)
    {
        const char *text = fault_text(clinic->faults, place, object, key, true);
        g_autofree char *at = fault_pointer(place, key);
        bool days[8] = {false};
        OpenHours open = {0, 0};
        if (!parse_days(key, days))
            fault_add_key(clinic->faults, at, key,
                          "is no day of the week; write mon-fri, sat or mon,wed");
        if (text != NULL && !parse_open(text, &open))
            fault_add(clinic->faults, at, text, "must be hours such as \"08:30-17:30\", or closed");
        for (int day = 1; day <= 7; day++) {
            if (!days[day]) continue;
            if (said[day])
                fault_add_key(clinic->faults, at, key, "names a day whose hours are given already");
            said[day] = true;
            hours[day] = open;
        }
        ever = ever || text == NULL || open.open < open.close || strcmp(text, "closed") != 0;
    }
    if (object != NULL && !ever)
        section_fault(clinic, "hours",
                      "must name a day on which the clinic is open; alerts wait for its hours");
}

static bool parse_span(const char *text, DaySpan *span)
{
    g_auto(GStrv) ends = g_strsplit(text, "/", 3);
    guint count = g_strv_length(ends);

    if (count < 1 || count > 2 || !day_parse(ends[0], &span->from)) return false;
    span->to = span->from;
    return (count == 1 || day_parse(ends[1], &span->to)) && span->from <= span->to;
}

GArray *spans_read(const Section *section, const char *key)
{
    GArray *spans = g_array_new(FALSE, FALSE, sizeof(DaySpan));
    g_autoptr(GPtrArray) texts = section_texts(section, key, false);
    g_autofree char *list = fault_pointer(section->pointer, key);

    for (guint i = 0; i < texts->len; i++) {
        DaySpan span;
        g_autofree char *place = fault_pointer_item(list, i);
        if (parse_span(texts->pdata[i], &span))
            g_array_append_val(spans, span);
        else
            fault_add(
                section->faults, place, texts->pdata[i],
                "must be a date such as 2026-12-25, or from/to such as 2026-07-01/2026-07-14");
    }
    return spans;
}

static bool closed_on(const Clinic *clinic, Day day)
{
    for (guint i = 0; i < clinic->closed->len; i++) {
        const DaySpan *span = &g_array_index(clinic->closed, DaySpan, i);
        if (day >= span->from && day <= span->to) return true;
    }
    return false;
}

bool clinic_open(const Clinic *clinic, LocalTime local)
{
    const OpenHours *hours = &clinic->hours[day_weekday(local.day)];

    return !closed_on(clinic, local.day) && local.second >= hours->open &&
           local.second < hours->close;
}

bool clinic_next_open(const Clinic *clinic, LocalTime local, LocalTime *next)
{
    for (int ahead = 0; ahead <= YEAR_DAYS; ahead++) {
        Day day = local.day + ahead;
        const OpenHours *hours = &clinic->hours[day_weekday(day)];
        int32_t from = ahead == 0 ? MAX(local.second, hours->open) : hours->open;
        if (closed_on(clinic, day) || from >= hours->close) continue;
        *next = (LocalTime){day, from};
        return true;
    }
    return false;
}
