/* SPDX-License-Identifier: Apache-2.0 */
/* Why osier did what it did: the reasons, then the entries of the ledger behind them, day by day. */
#include <glib.h>
#include <stdio.h>
#include <string.h>

#include "daemon/cli/ask.h"
#include "daemon/cli/show_value.h"

#define SHORT_CHARS 60
#define LINE_CHARS 96
#define ID_CHARS 32
#define ID_SHOWN 8
#define MARGIN "         "

static GDateTime *local_time(int64_t ms, GTimeZone *zone)
{
    g_autoptr(GDateTime) utc = g_date_time_new_from_unix_utc(ms / 1000);

    return utc != NULL ? g_date_time_to_timezone(utc, zone) : NULL;
}

static bool is_id(const char *text)
{
    return strlen(text) == ID_CHARS && strspn(text, "0123456789ABCDEF") == ID_CHARS;
}

/* A value of a body that fits beside others, or NULL (g_free). */
static char *short_value(const json_t *value, GTimeZone *zone)
{
    if (json_is_integer(value) && json_integer_value(value) >= SHOW_INSTANT_FROM) {
        g_autoptr(GDateTime) at = local_time(json_integer_value(value), zone);
        return at != NULL ? g_date_time_format(at, "%Y-%m-%d %H:%M") : NULL;
    }
    if (json_is_integer(value))
        return g_strdup_printf("%" JSON_INTEGER_FORMAT, json_integer_value(value));
    if (json_is_real(value)) return g_strdup_printf("%.6g", json_real_value(value));
    if (json_is_boolean(value)) return g_strdup(json_is_true(value) ? "yes" : "no");
    if (!json_is_string(value)) return NULL;
    const char *text = json_string_value(value);
    if (is_id(text)) return g_strndup(text, ID_SHOWN);
    return g_utf8_strlen(text, -1) <= SHORT_CHARS && strchr(text, '\n') == NULL ? g_strdup(text)
                                                                                : NULL;
}

/* Takes line on, broken before it grows too long; done with NULL. */
static void add_short(GString *line, const char *name, const char *value)
{
    gsize more = value != NULL ? strlen(name) + strlen(value) + 3 : 0;

    if (line->len > 0 && (value == NULL || line->len + more > LINE_CHARS)) {
        printf(MARGIN "%s\n", line->str);
        g_string_truncate(line, 0);
    }
    if (value == NULL) return;
    if (line->len > 0) g_string_append(line, "; ");
    g_string_append_printf(line, "%s %s", name, value);
}

/* The fields of a body: short ones beside one another, then long ones, then what lies within. */
static void print_body(const json_t *body, GTimeZone *zone, const char *skip)
{
    g_autoptr(GString) line = g_string_new(NULL);
    const char *name;
    json_t *value;

    json_object_foreach((json_t *)body, name, value)
    {
        g_autofree char *said = short_value(value, zone);
        bool same = json_is_string(value) && g_strcmp0(json_string_value(value), skip) == 0;
        if (said == NULL || same || strcmp(name, "at") == 0 || strcmp(name, "by") == 0) continue;
        add_short(line, name, said);
    }
    add_short(line, NULL, NULL);
    json_object_foreach((json_t *)body, name, value)
    {
        g_autofree char *said = short_value(value, zone);
        if (said != NULL || !show_has(body, name)) continue;
        if (json_is_string(value)) {
            printf(MARGIN "%s:\n", name);
            show_block(json_string_value(value), MARGIN "  | ");
        } else if (show_is_reasons(value)) {
            show_reasons(value, MARGIN);
        } else if (json_is_object(value)) {
            print_body(value, zone, skip);
        } else {
            printf(MARGIN "%s ", name);
            show_value(value);
            putchar('\n');
        }
    }
}

/* "alert opened" of "alert.opened". */
static char *kind_words(const char *kind)
{
    return g_strdelimit(g_strdup(kind), ".-", ' ');
}

static void print_event(const json_t *event, GTimeZone *zone, char **day, const char *skip)
{
    g_autoptr(GDateTime) at = local_time(json_integer_value(json_object_get(event, "wall")), zone);
    g_autofree char *date = at != NULL ? g_date_time_format(at, "%Y-%m-%d") : g_strdup("-");
    g_autofree char *clock = at != NULL ? g_date_time_format(at, "%H:%M") : g_strdup("-");
    g_autofree char *kind = kind_words(show_text(event, "kind"));

    if (g_strcmp0(date, *day) != 0) {
        printf("\n%s\n", date);
        g_free(*day);
        *day = g_strdup(date);
    }
    printf("  %s  %s, by %s\n", clock, kind, show_text(event, "author"));
    if (json_is_object(json_object_get(event, "body")))
        print_body(json_object_get(event, "body"), zone, skip);
    else
        puts(MARGIN "erased");
}

void show_why(const json_t *answer)
{
    const char *name = json_string_value(json_object_get(answer, "zone"));
    g_autoptr(GTimeZone) zone = g_time_zone_new_identifier(name != NULL ? name : "UTC");
    const json_t *reasons = json_object_get(answer, "reasons");
    g_autofree char *day = NULL;
    size_t i;
    json_t *event;

    if (zone == NULL) zone = g_time_zone_new_utc();
    printf("%s %s", show_text(answer, "what"), show_text(answer, "id"));
    if (show_has(answer, "name")) printf(", %s", show_text(answer, "name"));
    printf(" (times of %s)\n", g_time_zone_get_identifier(zone));
    if (show_is_reasons(reasons)) show_reasons(reasons, "  because of ");
    json_array_foreach(json_object_get(answer, "events"), i, event)
        print_event(event, zone, &day, show_text(answer, "client"));
}
