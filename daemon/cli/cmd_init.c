/* SPDX-License-Identifier: Apache-2.0 */
/* osier init: a new clinic's folder that works as it is and sends nothing. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "adapters/files/clinic_new.h"
#include "daemon/cli/cli.h"

static int run(const Cli *cli, int argc, char **argv)
{
    static const GOptionEntry NONE[] = {{NULL, 0, 0, 0, NULL, NULL, NULL}};
    g_autofree char *what = NULL;
    g_autofree char *why = NULL;

    if (!cli_options(&COMMAND_INIT, NONE, &argc, &argv)) return EXIT_USE;
    if (argc != 2 || argv[1][0] == '\0')
        return cli_fault(EXIT_USE, "init", argc > 2 ? argv[2] : "",
                         "needs one folder: osier init DIR");
    if (!clinic_folder_make(argv[1], &what, &why))
        return cli_fault(EXIT_CANNOT_MAKE, "init", what, "%s", why);
    if (cli->json) {
        cli_json(json_pack("{s:o}", "clinic", cli_path(argv[1])));
        return EXIT_OK;
    }
    printf("%s is ready. It writes messages to spool/ and sends nothing yet.\n"
           "  edit   %s/clinic.yaml\n"
           "  then   osier check-config --clinic %s\n"
           "  start  osierd --clinic %s\n",
           argv[1], argv[1], argv[1], argv[1]);
    return EXIT_OK;
}

const Command COMMAND_INIT = {
    .name = "init",
    .summary = "make a new clinic's folder",
    .usage = "DIR [--json]",
    .help = "Makes DIR with a commented clinic.yaml, programmes/, languages/, secrets/ and spool/, "
            "all for you only.\n"
            "Overwrites nothing. What it makes passes check-config and sends nothing until you "
            "name a gateway.\n\n"
            "  osier init /srv/clinic",
    .run = run,
};
