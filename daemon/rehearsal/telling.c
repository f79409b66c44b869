/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/rehearsal/telling.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

enum { REWRITE_US = 80 * 1000 };

static const char *const WEEKDAYS[] = {"", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"};

void telling_start(Telling *telling, int days)
{
    *telling = (Telling){.terminal = isatty(STDOUT_FILENO) == 1,
                         .days = days,
                         .states = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, g_free)};
}

static void wipe(const Telling *telling)
{
    if (telling->terminal) printf("\r\033[K");
}

void telling_end(Telling *telling)
{
    wipe(telling);
    g_hash_table_unref(telling->states);
}

/* A number as a person writes it, or the words (g_free); NULL for neither. */
static char *value_text(const json_t *value)
{
    if (json_is_string(value)) return g_strdup(json_string_value(value));
    if (json_is_number(value)) return g_strdup_printf("%g", json_number_value(value));
    return NULL;
}

char *telling_reason(const json_t *reason)
{
    const char *rule = json_string_value(json_object_get(reason, "rule"));
    const char *words = json_string_value(json_object_get(reason, "words"));
    g_autofree char *value = value_text(json_object_get(reason, "value"));
    g_autofree char *limit = value_text(json_object_get(reason, "limit"));
    GString *line = g_string_new(rule != NULL ? rule : "");

    g_string_replace(line, "_", " ", 0);
    if (value != NULL) g_string_append_printf(line, " %s", value);
    if (limit != NULL) g_string_append_printf(line, " (limit %s)", limit);
    if (words != NULL) g_string_append_printf(line, ": \"%s\"", words);
    return g_string_free(line, FALSE);
}

/* "Rosalind Q." */
static char *short_name(World *world, const char *client)
{
    const Resident *who = client != NULL ? world_resident(world, client) : NULL;
    const char *name = who != NULL ? who->someone.persona->name : "the clinic";
    const char *space = who != NULL ? strchr(name, ' ') : NULL;

    if (space == NULL) return g_strdup(name);
    return g_strdup_printf("%.*s %.1s.", (int)(space - name), name, space + 1);
}

static const char *text_of(const json_t *object, const char *field)
{
    const char *text = json_string_value(json_object_get(object, field));

    return text != NULL ? text : "";
}

static void print_stamp(const World *world, int64_t ms)
{
    LocalTime local = zone_local(world->zone, ms);
    int year, month, mday;

    day_to_civil(local.day, &year, &month, &mday);
    printf("  %s %02d/%02d %02d:%02d  ", WEEKDAYS[day_weekday(local.day)], mday, month,
           local.second / 3600, local.second / 60 % 60);
}

static void print_opened(World *world, const json_t *alert)
{
    g_autofree char *name = short_name(world, json_string_value(json_object_get(alert, "client")));
    g_autoptr(GString) reasons = g_string_new(NULL);
    int64_t at_ms = world->now_ms;
    size_t index;
    json_t *reason;

    json_array_foreach(json_object_get(alert, "reasons"), index, reason)
    {
        g_autofree char *text = telling_reason(reason);
        g_string_append_printf(reasons, "%s%s", index > 0 ? "; " : "", text);
    }
    instant_parse(text_of(alert, "at"), &at_ms);
    print_stamp(world, at_ms);
    printf("%-6s %-14s %s: %s\n", text_of(alert, "class"), name, text_of(alert, "kind"),
           reasons->str);
}

static void print_closed(World *world, const json_t *alert)
{
    g_autofree char *name = short_name(world, json_string_value(json_object_get(alert, "client")));

    print_stamp(world, world->now_ms);
    printf("closed %-14s %s: %s, %s (%s)\n", name, text_of(alert, "kind"),
           text_of(alert, "outcome"), text_of(alert, "note"), text_of(alert, "closed_by"));
}

static int by_at(const void *a, const void *b)
{
    const json_t *left = *(const json_t *const *)a, *right = *(const json_t *const *)b;

    return strcmp(text_of(left, "at"), text_of(right, "at"));
}

void telling_alerts(Telling *telling, World *world, const json_t *alerts)
{
    g_autoptr(GPtrArray) ordered = g_ptr_array_new();
    size_t index;
    json_t *alert;

    json_array_foreach(alerts, index, alert)
    {
        g_ptr_array_add(ordered, alert);
    }
    if (ordered->len > 1) qsort(ordered->pdata, ordered->len, sizeof ordered->pdata[0], by_at);
    for (guint i = 0; i < ordered->len; i++) {
        const char *id = text_of(ordered->pdata[i], "alert");
        const char *state = text_of(ordered->pdata[i], "state");
        const char *before = g_hash_table_lookup(telling->states, id);
        if (g_strcmp0(before, state) == 0) continue;
        wipe(telling);
        if (before == NULL) print_opened(world, ordered->pdata[i]);
        if (strcmp(state, "closed") == 0) print_closed(world, ordered->pdata[i]);
        telling->alerts += before == NULL;
        telling->shown_us = 0;
        g_hash_table_replace(telling->states, g_strdup(id), g_strdup(state));
    }
}

void telling_progress(Telling *telling, const World *world)
{
    LocalTime local = zone_local(world->zone, world->now_ms);
    int day = MIN(local.day - world->from + 1, telling->days);
    gint64 now_us = g_get_monotonic_time();
    int year, month, mday;

    if (telling->terminal ? now_us - telling->shown_us < REWRITE_US : day == telling->day) return;
    telling->shown_us = now_us;
    telling->day = day;
    day_to_civil(local.day, &year, &month, &mday);
    wipe(telling);
    printf("day %2d of %d  %s %02d/%02d   %4d texts and %2u mails out, %4u texts in, %2d alerts%s",
           day, telling->days, WEEKDAYS[day_weekday(local.day)], mday, month, world->texts_out,
           world->mails->len, world->letters->len, telling->alerts, telling->terminal ? "" : "\n");
    fflush(stdout);
}
