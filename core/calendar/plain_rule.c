/* SPDX-License-Identifier: Apache-2.0 */
#include "core/calendar/plain_rule.h"

#include <string.h>

#define EVERY_WEEKDAY 0x7f
#define INTERVAL_MAX 999

/* Which parts were read: none may come twice. */
enum { PART_FREQ = 1, PART_INTERVAL = 2, PART_BYDAY = 4, PART_WKST = 8 };

static bool take(const char **at, const char *word)
{
    size_t length = strlen(word);

    if (strncmp(*at, word, length) != 0) return false;
    *at += length;
    return true;
}

/* "MO" to 0, "SU" to 6. */
static bool take_weekday(const char **at, int *weekday)
{
    static const char *const NAMES[] = {"MO", "TU", "WE", "TH", "FR", "SA", "SU"};

    for (*weekday = 0; *weekday < 7; ++*weekday)
        if (take(at, NAMES[*weekday])) return true;
    return false;
}

static bool take_weekdays(const char **at, uint8_t *weekdays)
{
    int weekday;

    *weekdays = 0;
    do {
        if (!take_weekday(at, &weekday)) return false;
        *weekdays |= (uint8_t)(1 << weekday);
    } while (take(at, ","));
    return true;
}

static bool take_interval(const char **at, int *interval)
{
    *interval = 0;
    while (g_ascii_isdigit(**at) && *interval <= INTERVAL_MAX)
        *interval = *interval * 10 + *(*at)++ - '0';
    return *interval >= 1 && *interval <= INTERVAL_MAX;
}

typedef struct {
    int parts;
    int week_start;
} Reading;

static bool take_part(const char **at, Reading *reading, PlainRule *rule)
{
    int part = 0;
    bool read = false;

    if (take(at, "FREQ=")) {
        part = PART_FREQ;
        rule->weekly = take(at, "WEEKLY");
        read = rule->weekly || take(at, "DAILY");
    } else if (take(at, "INTERVAL=")) {
        part = PART_INTERVAL;
        read = take_interval(at, &rule->interval);
    } else if (take(at, "BYDAY=")) {
        part = PART_BYDAY;
        read = take_weekdays(at, &rule->weekdays);
    } else if (take(at, "WKST=")) {
        part = PART_WKST;
        read = take_weekday(at, &reading->week_start);
    }
    if (!read || (reading->parts & part) != 0) return false;
    reading->parts |= part;
    return true;
}

static int weekday_of(Day day)
{
    return day_weekday(day) - 1;
}

bool plain_rule_read(const char *text, Day from, PlainRule *rule)
{
    Reading reading = {0};

    *rule = (PlainRule){.from = from, .week_first = from, .interval = 1, .weekdays = EVERY_WEEKDAY};
    if (text == NULL) return true;
    do {
        if (!take_part(&text, &reading, rule)) return false;
    } while (take(&text, ";"));
    if (*text != '\0' || (reading.parts & PART_FREQ) == 0) return false;
    if (!rule->weekly) return true;
    rule->week_first = from - (weekday_of(from) - reading.week_start + 7) % 7;
    if ((reading.parts & PART_BYDAY) == 0) rule->weekdays = (uint8_t)(1 << weekday_of(from));
    return true;
}

/* Moves a day to the next that the interval lets pass, if it does not itself. */
static Day next_by_interval(const PlainRule *rule, Day day)
{
    int unit = rule->weekly ? 7 : 1;
    int since = (day - rule->week_first) / unit % rule->interval;

    if (since == 0) return day;
    Day unit_first = day - (day - rule->week_first) % unit;
    return unit_first + (rule->interval - since) * unit;
}

bool plain_rule_next(const PlainRule *rule, Day day, Day *date)
{
    Day last;

    day_from_civil(9999, 12, 31, &last);
    /* Seven units pass every weekday, unless an interval of days always meets the same few. */
    day = MAX(day, rule->from);
    for (int steps = 0; steps < 14 && day < last; steps++, day++) {
        day = next_by_interval(rule, day);
        if ((rule->weekdays >> weekday_of(day) & 1) != 0) {
            *date = day;
            return day < last;
        }
    }
    return false;
}
