/* SPDX-License-Identifier: Apache-2.0 */
/* osier records export: what the clinic holds, as files for other programs. */
#include <errno.h>
#include <glib/gstdio.h>
#include <stdio.h>

#include "adapters/store/find.h"
#include "daemon/cli/copy.h"
#include "daemon/cli/records.h"
#include "daemon/cli/records_fhir.h"
#include "daemon/cli/records_tables.h"

typedef struct {
    gboolean csv;
    gboolean fhir;
    char *out;
    const char *client; /* as named, or NULL: all */
} Wish;

/* A new folder for its owner alone, or an empty one. */
static int make_folder(const char *path)
{
    g_autoptr(GDir) dir = NULL;

    if (g_mkdir(path, 0700) == 0) return EXIT_OK;
    int error = errno;
    dir = g_dir_open(path, 0, NULL);
    if (dir == NULL)
        return cli_fault(EXIT_CANNOT_MAKE, "--out", path, "cannot be made: %s", g_strerror(error));
    if (g_dir_read_name(dir) != NULL)
        return cli_fault(EXIT_CANNOT_MAKE, "--out", path, "is not empty; name a new folder");
    return EXIT_OK;
}

static int export_from(Tx *tx, const Wish *wish, int64_t *count)
{
    g_autofree char *client = NULL;
    int found = wish->client != NULL ? find_client_by_prefix(tx, wish->client, &client) : 1;

    if (found != 1)
        return cli_fault(EXIT_NO_SUCH, "client", wish->client,
                         found == 0 ? "there is none of that id"
                                    : "several begin so; give more of the id");
    int code = client == NULL ? make_folder(wish->out) : EXIT_OK;
    if (code != EXIT_OK) return code;
    g_autofree char *problem = wish->csv ? records_tables(tx, wish->out, count)
                                         : records_fhir(tx, client, wish->out, count);
    return problem == NULL ? EXIT_OK
                           : cli_fault(EXIT_CANNOT_MAKE, "--out", wish->out, "%s", problem);
}

static int export(const Cli *cli, const Wish *wish)
{
    const char *what = wish->csv ? "rows" : "resources";
    StoreCopy copy = {0};
    int64_t count = 0;
    int code = copy_open(cli, &copy);

    if (code != EXIT_OK) return code;
    code = copy_close(&copy, export_from(copy.tx, wish, &count));
    if (code != EXIT_OK) return code;
    if (cli->json)
        cli_json(json_pack("{s:o, s:I}", "out", cli_path(wish->out), what, (json_int_t)count));
    else
        printf("%s: %" G_GINT64_FORMAT " %s. They name people: keep them as you keep records.\n",
               wish->out, count, what);
    return EXIT_OK;
}

int records_export(const Cli *cli, int argc, char **argv)
{
    Wish wish = {0};
    const GOptionEntry entries[] = {
        {.long_name = "csv", .arg = G_OPTION_ARG_NONE, .arg_data = &wish.csv},
        {.long_name = "fhir", .arg = G_OPTION_ARG_NONE, .arg_data = &wish.fhir},
        {.long_name = "out", .arg = G_OPTION_ARG_FILENAME, .arg_data = &wish.out},
        {0},
    };

    if (!cli_options(&COMMAND_RECORDS, entries, &argc, &argv)) return EXIT_USE;
    g_autofree char *out = wish.out;
    if (argc > 1 && wish.fhir) wish.client = argv[1];
    if (argc > 1 + (wish.client != NULL) || out == NULL || wish.csv == wish.fhir)
        return cli_fault(EXIT_USE, "records export", argc > 1 ? argv[1] : "",
                         "needs --csv --out DIR, --fhir --out DIR or --fhir CLIENT --out FILE; "
                         "try: osier records --help");
    return export(cli, &wish);
}
