/* SPDX-License-Identifier: Apache-2.0 */
/* osier rehearse: weeks of a clinic in seconds. */
#include <string.h>

#include "adapters/files/share.h"
#include "daemon/cli/cli.h"
#include "daemon/rehearsal/rehearsal.h"

#define DAYS_MOST 370

static int run(const Cli *cli, int argc, char **argv)
{
    g_autofree char *from = NULL;
    g_autofree char *out = NULL;
    gint days = 14;
    gint64 seed = 1;
    const GOptionEntry entries[] = {
        {"from", 0, 0, G_OPTION_ARG_STRING, &from, "", ""},
        {"days", 0, 0, G_OPTION_ARG_INT, &days, "", ""},
        {"seed", 0, 0, G_OPTION_ARG_INT64, &seed, "", ""},
        {"out", 0, 0, G_OPTION_ARG_FILENAME, &out, "", ""},
        {NULL, 0, 0, 0, NULL, NULL, NULL},
    };
    g_autofree char *share = share_folder();
    g_autofree char *demo = g_build_filename(share, "demo", NULL);
    RehearsalPlan plan = {.clinic = strcmp(cli->clinic, ".") == 0 ? demo : cli->clinic,
                          .quiet = cli->json};

    if (!cli_options(&COMMAND_REHEARSE, entries, &argc, &argv)) return EXIT_USE;
    if (argc > 1)
        return cli_fault(EXIT_USE, "rehearse", argv[1],
                         "is one word too many; try: osier rehearse --help");
    if (from == NULL || !day_parse(from, &plan.from))
        return cli_fault(EXIT_USE, "--from", from, "is needed as a date: --from 2026-03-02");
    if (out == NULL) return cli_fault(EXIT_USE, "--out", "", "is needed: a new folder");
    if (days < 1 || days > DAYS_MOST)
        return cli_fault(EXIT_USE, "--days", "", "must be from 1 to %d", DAYS_MOST);
    plan.out = out;
    plan.days = days;
    plan.seed = seed;
    int code = rehearsal_run(&plan);
    if (code != EXIT_OK || !cli->json) return code;
    g_autofree char *path = g_build_filename(out, "summary.json", NULL);
    json_t *summary = json_load_file(path, 0, NULL);
    if (summary == NULL) return cli_fault(EXIT_IO, "summary", path, "cannot be read");
    cli_json(summary);
    return EXIT_OK;
}

const Command COMMAND_REHEARSE = {
    .name = "rehearse",
    .summary = "play weeks of a clinic in seconds: the real osierd among stand-ins",
    .usage = "--from DATE [--days N] [--seed N] --out DIR [--clinic DIR]",
    .help = "  osier rehearse --from 2026-03-02 --days 14 --seed 7 --out rehearsal\n"
            "  osier rehearse --clinic /srv/clinic --from 2026-03-02 --days 28 --out rehearsal\n\n"
            "Starts osierd on a new store with a clock that is stepped, a gateway and a mail "
            "server that only pretend,\n"
            "and clients and clinicians who answer as people do. With --clinic it uses that "
            "folder's settings, every\n"
            "address replaced by a stand-in's and every secret by a dummy; without, a made-up "
            "clinic's. Nothing leaves\n"
            "the machine. The same seed gives the same files.",
    .run = run,
};
