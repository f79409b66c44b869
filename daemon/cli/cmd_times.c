/* SPDX-License-Identifier: Apache-2.0 */
/* osier times: what a recurrence rule means in a zone. */
#include <stdio.h>

#include "core/calendar/recurrence.h"
#include "daemon/cli/cli.h"
#include "daemon/zones.h"

#define LINES_OTHERWISE 1000
#define LINES_MAX 100000

static json_t *line(LocalTime local, int64_t ms, LocalKind kind)
{
    g_autofree char *local_text = local_format(local);
    g_autofree char *utc = instant_format(ms);

    return json_pack("{s:s, s:s, s:s}", "local", local_text, "utc", utc, "kind",
                     local_kind_name(kind));
}

static int print_times(Recurrence *recurrence, int lines_max)
{
    LocalTime local;
    int64_t ms;
    LocalKind kind;

    for (int i = 0; i < lines_max && recurrence_next(recurrence, &local, &ms, &kind); i++)
        cli_json(line(local, ms, kind));
    return EXIT_OK;
}

static int times(const char *zone_id, const char *start_text, const char *rule, int count)
{
    g_autoptr(Zones) zones = zones_new();
    GTimeZone *zone = zones_get(zones, zone_id);
    g_autofree char *why = NULL;
    LocalTime start;

    if (zone == NULL)
        return cli_fault(EXIT_DATA, "--zone", zone_id,
                         "is not in the zone database; write an IANA name such as Europe/London");
    if (!local_parse(start_text, &start))
        return cli_fault(EXIT_DATA, "--start", start_text,
                         "is no local time; write it as 2026-03-29T08:00");
    g_autoptr(Recurrence) recurrence = recurrence_new(rule, start, zone, &why);
    if (recurrence == NULL) return cli_fault(EXIT_DATA, "--rule", rule, "%s", why);
    if (count == 0) count = recurrence_limited(recurrence) ? LINES_MAX : LINES_OTHERWISE;
    return print_times(recurrence, count);
}

static int run(const Cli *cli, int argc, char **argv)
{
    g_autofree char *zone = NULL;
    g_autofree char *start = NULL;
    g_autofree char *rule = NULL;
    int count = 0;
    const GOptionEntry entries[] = {
        {"zone", 0, 0, G_OPTION_ARG_STRING, &zone, NULL, NULL},
        {"start", 0, 0, G_OPTION_ARG_STRING, &start, NULL, NULL},
        {"rule", 0, 0, G_OPTION_ARG_STRING, &rule, NULL, NULL},
        {"count", 0, 0, G_OPTION_ARG_INT, &count, NULL, NULL},
        {NULL},
    };
    const struct {
        const char *name;
        char *const *value;
    } required[] = {{"--zone", &zone}, {"--start", &start}, {"--rule", &rule}};

    (void)cli; /* lines of JSON with or without --json, and no clinic */
    bool counted = false;
    for (int i = 1; i < argc; i++)
        counted = counted || g_str_has_prefix(argv[i], "--count");
    if (!cli_options(&COMMAND_TIMES, entries, &argc, &argv)) return EXIT_USE;
    if (argc > 1)
        return cli_fault(EXIT_USE, "times", argv[1], "is not expected; try: osier times --help");
    for (size_t i = 0; i < G_N_ELEMENTS(required); i++)
        if (*required[i].value == NULL)
            return cli_fault(EXIT_USE, "times", required[i].name,
                             "is missing; try: osier times --help");
    if (counted && (count < 1 || count > LINES_MAX)) {
        g_autofree char *value = g_strdup_printf("%d", count);
        return cli_fault(EXIT_USE, "--count", value, "must be 1 to %d", LINES_MAX);
    }
    return times(zone, start, rule, count);
}

const Command COMMAND_TIMES = {
    .name = "times",
    .summary = "the instants of a recurrence rule in a zone",
    .usage = "--zone ZONE --start LOCAL --rule RRULE [--count N]",
    .help =
        "Prints a line of JSON for each occurrence of an RFC 5545 rule: the local time that was\n"
        "asked for, its instant, and what the clock does there (plain, gap, overlap). In a gap "
        "the\n"
        "offset before it counts, of a time that comes twice the first is meant, and a date that\n"
        "does not exist gives no line. The start is the first occurrence.\n\n"
        "A rule without COUNT and UNTIL ends after 1000 lines; --count N prints N at most, up to\n"
        "100000.\n\n"
        "  osier times --zone Europe/London --start 2026-03-28T01:30 --rule "
        "\"FREQ=DAILY;COUNT=3\"\n",
    .run = run,
};
