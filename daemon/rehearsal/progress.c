/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/rehearsal/progress.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

struct Progress {
    bool quiet;
    bool terminal;
    GTimeZone *zone;
    Day from;
    int days;
    Day day; /* being shown */
    int texts_before;
    guint letters_before;
    GHashTable *alerts; /* ids that have been shown */
};

Progress *progress_new(bool quiet, const Clinic *clinic, Day from, int days)
{
    Progress *progress = g_new0(Progress, 1);
    g_autofree char *first = day_format(from);

    progress->quiet = quiet;
    progress->terminal = isatty(STDOUT_FILENO) == 1;
    progress->zone = g_time_zone_new_identifier(clinic->zone);
    progress->from = from;
    progress->days = days;
    progress->day = from;
    progress->alerts = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
    if (!quiet) printf("%s, %d days from %s, all of it made up\n\n", clinic->name, days, first);
    return progress;
}

void progress_free(Progress *progress)
{
    if (progress == NULL) return;
    g_time_zone_unref(progress->zone);
    g_hash_table_unref(progress->alerts);
    g_free(progress);
}

static const char *text(const json_t *object, const char *field)
{
    const char *value = json_string_value(json_object_get(object, field));

    return value != NULL ? value : "";
}

/* "pain_now 8 (limit 7)", "warning: clot, "swollen"" as one run of words. */
static void add_reason(GString *line, const json_t *reason)
{
    const json_t *value = json_object_get(reason, "value");
    const json_t *limit = json_object_get(reason, "limit");
    const char *words = json_string_value(json_object_get(reason, "words"));

    g_string_append_printf(line, "%s%s", line->len > 0 ? "; " : "", text(reason, "rule"));
    if (json_is_string(value)) g_string_append_printf(line, ": %s", json_string_value(value));
    if (json_is_number(value)) g_string_append_printf(line, " %g", json_number_value(value));
    if (json_is_number(limit))
        g_string_append_printf(line, " (limit %g)", json_number_value(limit));
    if (words != NULL) g_string_append_printf(line, ", \"%s\"", words);
}

static const char *name_of(World *world, const char *client)
{
    const Resident *resident =
        client != NULL && *client != '\0' ? world_resident(world, client) : NULL;

    return resident != NULL ? resident->someone.persona->name : "the clinic itself";
}

static void show_alert(Progress *progress, World *world, const json_t *alert)
{
    g_autoptr(GString) reasons = g_string_new(NULL);
    int64_t at_ms = 0;
    size_t i;
    json_t *reason;

    json_array_foreach(json_object_get(alert, "reasons"), i, reason) add_reason(reasons, reason);
    instant_parse(text(alert, "at"), &at_ms);
    LocalTime at = zone_local(progress->zone, at_ms);
    printf("%s      ! %02d:%02d  %-6s %-14s %s: %s\n", progress->terminal ? "\r\033[K" : "",
           at.second / 3600, at.second / 60 % 60, text(alert, "class"), text(alert, "kind"),
           name_of(world, text(alert, "client")), reasons->str);
}

static void show_alerts(Progress *progress, World *world)
{
    json_t *alerts = link_must(world->link, "GET", "/alerts?all=1", NULL);
    size_t i;
    json_t *alert;

    json_array_foreach(alerts, i, alert)
    {
        if (!g_hash_table_add(progress->alerts, g_strdup(text(alert, "alert")))) continue;
        show_alert(progress, world, alert);
    }
    json_decref(alerts);
}

static void show_day(Progress *progress, World *world, bool over)
{
    static const char *const WEEKDAYS[] = {"", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"};
    g_autofree char *date = day_format(progress->day);

    printf("%s%s %s  day %2d of %d   %3d texts out  %3u in%s", progress->terminal ? "\r\033[K" : "",
           WEEKDAYS[day_weekday(progress->day)], date, progress->day - progress->from + 1,
           progress->days, world->texts_out - progress->texts_before,
           world->letters->len - progress->letters_before, over || !progress->terminal ? "\n" : "");
    fflush(stdout);
}

static void close_day(Progress *progress, World *world)
{
    show_day(progress, world, true);
    show_alerts(progress, world);
    progress->texts_before = world->texts_out;
    progress->letters_before = world->letters->len;
}

void progress_at(Progress *progress, World *world, int64_t at_ms)
{
    Day day = zone_local(progress->zone, at_ms).day;

    if (progress->quiet || day == progress->day) return;
    close_day(progress, world);
    progress->day = day;
    if (progress->terminal) show_day(progress, world, false);
}

void progress_end(Progress *progress, World *world)
{
    if (!progress->quiet) close_day(progress, world);
}

void progress_report(const Harvest *harvest, const World *world, const char *out, int64_t end_ms)
{
    json_t *summary = harvest_summary(harvest, world, end_ms);
    char *figures = json_dumps(summary, JSON_COMPACT);

    printf("\n--- the week, as the clinic is mailed it "
           "-------------------------------\n\n%s\n"
           "--- what there is to look at "
           "-------------------------------------------\n\n",
           harvest->week);
    printf("  %s/summary.json     %s\n", out, figures);
    printf("  %s/messages.jsonl   every message and what became of it\n", out);
    printf("  %s/alerts.jsonl     every alert with its reasons and outcome\n", out);
    printf("  %s/digest-1.html    the digest as mailed (also .eml)\n", out);
    printf("  %s/ledger.jsonl     the record that all of it follows from\n", out);
    printf("  %s/store.db         the store\n", out);
    free(figures);
    json_decref(summary);
}
