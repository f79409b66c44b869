/* SPDX-License-Identifier: Apache-2.0 */
/* osier check: is the ledger of a clinic sound? With the daemon stopped, for the store has one
 * reader at a time. */
#include <stdio.h>
#include <string.h>

#include "daemon/cli/place.h"

static int exit_code(OpenResult result)
{
    switch (result) {
    case OPEN_OK: return EXIT_OK;
    case OPEN_IN_USE: return EXIT_LATER;
    case OPEN_NO_STORE: return EXIT_NO_SUCH;
    case OPEN_OTHER_MODE:
    case OPEN_NEWER: return EXIT_DATA;
    case OPEN_CANNOT: return EXIT_IO;
    }
    return EXIT_IO;
}

static json_t *list(const GPtrArray *findings)
{
    json_t *lines = json_array();

    for (guint i = 0; i < findings->len; i++)
        json_array_append_new(lines, json_string(findings->pdata[i]));
    return lines;
}

/* What to do about findings: tables alone can be made anew, a ledger cannot. */
static const char *advice(const GPtrArray *findings)
{
    for (guint i = 0; i < findings->len; i++)
        if (!g_str_has_prefix(findings->pdata[i], "table "))
            return "the ledger itself is damaged. Do not start osierd on it. Keep a copy of the "
                   "whole folder, look at the disk and the memory of this machine, then put the "
                   "last good copy into a new folder: osier restore FILE; what came in since that "
                   "copy stands in the old folder and in the gateways' own records";
    return "the ledger is sound, the tables made from it are not. Keep a copy of the folder, then: "
           "osier check --rebuild; if it happens again, look at the disk";
}

static int tell(const Cli *cli, const char *path, const GPtrArray *findings, int64_t events)
{
    bool sound = findings->len == 0;

    if (cli->json) {
        cli_json(json_pack("{s:b, s:I, s:o, s:s?}", "sound", sound, "events", (json_int_t)events,
                           "findings", list(findings), "do", sound ? NULL : advice(findings)));
        return sound ? EXIT_OK : EXIT_DATA;
    }
    for (guint i = 0; i < findings->len; i++)
        puts(findings->pdata[i]);
    if (sound) {
        printf("sound: %" G_GINT64_FORMAT " events, their chain, the tables and the database\n",
               events);
        return EXIT_OK;
    }
    return cli_fault(EXIT_DATA, "check", path, "not sound, findings: %u: %s", findings->len,
                     advice(findings));
}

static int run(const Cli *cli, int argc, char **argv)
{
    gboolean rebuild = FALSE;
    const GOptionEntry entries[] = {
        {.long_name = "rebuild", .arg = G_OPTION_ARG_NONE, .arg_data = &rebuild},
        {0},
    };
    if (!cli_options(&COMMAND_CHECK, entries, &argc, &argv)) return EXIT_USE;
    if (argc > 1)
        return cli_fault(EXIT_USE, "check", argv[1], "takes no words; try: osier check --help");
    g_auto(ClinicPlace) found = {0};
    clinic_place_find(cli, &found);
    const StorePlace place = clinic_place_store(&found);
    const char *path = store_place_name(&place);
    g_autoptr(GPtrArray) findings = g_ptr_array_new_with_free_func(g_free);
    g_autofree char *why = NULL;
    int64_t events = 0;
    OpenResult result = store_place_check(&place, rebuild, findings, &events, &why);
    if (result == OPEN_OK) return tell(cli, path, findings, events);
    /* why begins with that name */
    return cli_fault(exit_code(result), "check", path, "%s%s", why + strlen(path) + 2,
                     result == OPEN_IN_USE ? "; stop osierd first" : "");
}

const Command COMMAND_CHECK = {
    .name = "check",
    .summary = "is the ledger sound? (with osierd stopped)",
    .usage = "[--rebuild]",
    .help =
        "Verifies that no event was changed or lost, that the database is whole, and that the\n"
        "tables are what the events give. --rebuild then makes the tables anew from the events.\n"
        "Exit code 65 where something is found, 75 while osierd runs, 66 where there is no "
        "store.\n\n"
        "  osier check --clinic /var/lib/osier",
    .run = run,
};
