/* SPDX-License-Identifier: Apache-2.0 */
/* osier check-config: everything that is wrong with a clinic's folder, at once. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "adapters/files/clinic_file.h"
#include "adapters/files/complaint.h"
#include "daemon/cli/cli.h"

static json_t *lines_json(const GPtrArray *messages)
{
    json_t *lines = json_array();

    for (guint i = 0; i < messages->len; i++) {
        Complaint complaint = {0};
        g_autofree char *valid = g_utf8_make_valid(messages->pdata[i], -1); /* the folder's name */
        if (!complaint_split(valid, &complaint)) continue;
        json_array_append_new(lines, json_pack("{s:s, s:i, s:i, s:s, s:s}", "file", complaint.file,
                                               "line", complaint.line, "column", complaint.column,
                                               "value", complaint.value, "why", complaint.why));
        complaint_clear(&complaint);
    }
    return lines;
}

static void print_json(const GPtrArray *messages, const ClinicFolder *folder)
{
    cli_json(json_pack("{s:o, s:o}", "faults", lines_json(messages), "cautions",
                       folder != NULL ? lines_json(folder->cautions) : json_array()));
}

static void print_summary(const ClinicFolder *folder)
{
    const Clinic *clinic = folder->clinic;

    for (guint i = 0; i < folder->cautions->len; i++)
        puts(folder->cautions->pdata[i]);
    printf("%s: nothing is wrong%s; %u on duty, %u gateway%s, %u language%s, %u programme%s\n",
           clinic->name, folder->cautions->len > 0 ? ", but look at the lines above" : "",
           clinic->duty->len, clinic->gateways->len, clinic->gateways->len == 1 ? "" : "s",
           folder->packs->len, folder->packs->len == 1 ? "" : "s", folder->programmes->len,
           folder->programmes->len == 1 ? "" : "s");
    for (guint i = 0; i < clinic->gateways->len; i++) {
        const Gateway *gateway = clinic->gateways->pdata[i];
        if (gateway->kind == GATEWAY_SPOOL)
            printf("gateway %s only writes to spool/: it sends nothing\n", gateway->name);
    }
}

static int run(const Cli *cli, int argc, char **argv)
{
    static const GOptionEntry NONE[] = {{NULL, 0, 0, 0, NULL, NULL, NULL}};
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);

    if (!cli_options(&COMMAND_CHECK_CONFIG, NONE, &argc, &argv)) return EXIT_USE;
    if (argc > 1)
        return cli_fault(EXIT_USE, "check-config", argv[1],
                         "takes no further words; the folder is named by --clinic");
    g_autoptr(ClinicFolder) folder = clinic_folder_load(cli->clinic, messages);
    if (cli->json) {
        print_json(messages, folder);
    } else {
        for (guint i = 0; i < messages->len; i++)
            puts(messages->pdata[i]);
        if (folder != NULL) print_summary(folder);
    }
    return folder != NULL ? EXIT_OK : EXIT_SETTINGS;
}

const Command COMMAND_CHECK_CONFIG = {
    .name = "check-config",
    .summary = "tell everything that is wrong with a clinic's settings",
    .usage = "[--clinic DIR] [--json]",
    .help = "Reads clinic.yaml, languages/, programmes/ and secrets/ and prints a line for each "
            "fault:\n"
            "  FILE:LINE:COL: VALUE: WHY\n"
            "and for each address that no gateway carries messages to. Exits with 0 where osierd "
            "would\n"
            "take the settings, with 78 otherwise. Works beside a running daemon.\n\n"
            "  osier check-config --clinic /srv/clinic",
    .run = run,
};
