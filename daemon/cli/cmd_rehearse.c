/* SPDX-License-Identifier: Apache-2.0 */
/* osier rehearse: days of a clinic in seconds, with a real osierd and a made-up world. */
#include <string.h>

#include "adapters/files/share.h"
#include "daemon/cli/cli.h"
#include "daemon/rehearsal/driver.h"

enum { DAYS_OTHERWISE = 14, DAYS_MAX = 366, CLIENTS_MAX = 15 };

/* The folder whose settings are rehearsed: the clinic's where there is one, else the demo's. NULL
 * after a message (g_free). */
static char *choose_clinic(const Cli *cli)
{
    g_autofree char *own = g_build_filename(cli->clinic, "clinic.yaml", NULL);
    g_autofree char *share = share_folder();

    if (g_file_test(own, G_FILE_TEST_EXISTS)) return g_strdup(cli->clinic);
    if (strcmp(cli->clinic, ".") == 0) return g_build_filename(share, "demo", NULL);
    cli_fault(EXIT_SETTINGS, "--clinic", cli->clinic, "holds no clinic.yaml");
    return NULL;
}

static int run(const Cli *cli, int argc, char **argv)
{
    g_autofree char *from = NULL;
    g_autofree char *out = NULL;
    Rehearsal wish = {.days = DAYS_OTHERWISE, .seed = 1, .clients = CLIENTS_MAX};
    const GOptionEntry entries[] = {
        {"from", 0, 0, G_OPTION_ARG_STRING, &from, NULL, NULL},
        {"days", 0, 0, G_OPTION_ARG_INT, &wish.days, NULL, NULL},
        {"seed", 0, 0, G_OPTION_ARG_INT64, &wish.seed, NULL, NULL},
        {"clients", 0, 0, G_OPTION_ARG_INT, &wish.clients, NULL, NULL},
        {"out", 0, 0, G_OPTION_ARG_FILENAME, &out, NULL, NULL},
        {NULL, 0, 0, 0, NULL, NULL, NULL},
    };

    if (!cli_options(&COMMAND_REHEARSE, entries, &argc, &argv)) return EXIT_USE;
    if (argc > 1)
        return cli_fault(EXIT_USE, "rehearse", argv[1],
                         "is not expected; try: osier rehearse --help");
    if (from == NULL || out == NULL || *out == '\0')
        return cli_fault(EXIT_USE, "rehearse", from == NULL ? "--from" : "--out",
                         "is missing; try: osier rehearse --help");
    if (!day_parse(from, &wish.from))
        return cli_fault(EXIT_USE, "--from", from, "is no date; write it as 2026-03-02");
    if (wish.days < 1 || wish.days > DAYS_MAX) {
        g_autofree char *value = g_strdup_printf("%d", wish.days);
        return cli_fault(EXIT_USE, "--days", value, "must be 1 to %d", DAYS_MAX);
    }
    if (wish.clients < 1 || wish.clients > CLIENTS_MAX) {
        g_autofree char *value = g_strdup_printf("%d", wish.clients);
        return cli_fault(EXIT_USE, "--clients", value, "must be 1 to %d", CLIENTS_MAX);
    }
    g_autofree char *clinic = choose_clinic(cli);
    if (clinic == NULL) return EXIT_SETTINGS;
    wish.clinic = clinic;
    wish.out = out;
    wish.json = cli->json;
    return rehearse(&wish);
}

const Command COMMAND_REHEARSE = {
    .name = "rehearse",
    .summary = "days of a clinic in seconds, with made-up people",
    .usage = "--from DATE --out DIR [--days N] [--seed N] [--clients N] [--clinic DIR]",
    .help =
        "Starts a real osierd on a made-up clock and a new store, with a made-up world around it: "
        "a\n"
        "gateway and a mail server on this machine, clients who answer as people do, clinicians\n"
        "who take alerts, see their clients every two weeks, measure, and confirm moves. Nothing\n"
        "leaves the machine. Uses the clinic folder's own settings, texts and programmes, every\n"
        "address replaced, every secret a dummy; without a clinic folder, those of a demo "
        "clinic.\n\n"
        "Shows the days going by, each alert with its reasons, each move with what speaks for it,\n"
        "and the last week's account. DIR is made, or must be empty; it holds summary.json,\n"
        "messages.jsonl, alerts.jsonl, the digests, ledger.jsonl and the store. The same seed "
        "gives\n"
        "the same files. --clients takes only the first N of the cast: many weeks in little "
        "time.\n"
        "--json shows nothing but the summary, at the end.\n\n"
        "  osier rehearse --from 2026-03-02 --days 14 --seed 7 --out /tmp/two-weeks\n",
    .run = run,
};
