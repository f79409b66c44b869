/* SPDX-License-Identifier: Apache-2.0 */
/* osier records export: what the clinic holds, as files for other programs. */
#include <errno.h>
#include <glib/gstdio.h>
#include <stdio.h>

#include "daemon/cli/copy.h"
#include "daemon/cli/records.h"
#include "daemon/cli/records_tables.h"

typedef struct {
    gboolean csv;
    char *out;
} Wish;

/* A new folder for its owner alone, or an empty one. */
static int make_folder(const char *path)
{
    g_autoptr(GDir) dir = NULL;

    if (g_mkdir(path, 0700) == 0) return EXIT_OK;
    dir = g_dir_open(path, 0, NULL);
    if (dir == NULL)
        return cli_fault(EXIT_CANNOT_MAKE, "--out", path, "cannot be made: %s", g_strerror(errno));
    if (g_dir_read_name(dir) != NULL)
        return cli_fault(EXIT_CANNOT_MAKE, "--out", path, "is not empty; name a new folder");
    return EXIT_OK;
}

static int export_csv(const Cli *cli, const char *out)
{
    StoreCopy copy = {0};
    int64_t rows = 0;
    g_autofree char *problem = NULL;
    int code = copy_open(cli, &copy);

    if (code != EXIT_OK) return code;
    code = make_folder(out);
    if (code == EXIT_OK) problem = records_tables(copy.tx, out, &rows);
    if (problem != NULL) code = cli_fault(EXIT_CANNOT_MAKE, "--out", out, "%s", problem);
    code = copy_close(&copy, code);
    if (code != EXIT_OK) return code;
    if (cli->json)
        cli_json(json_pack("{s:s, s:I}", "out", out, "rows", (json_int_t)rows));
    else
        printf("%s: %" G_GINT64_FORMAT " rows. They name people: keep them as you keep records.\n",
               out, rows);
    return EXIT_OK;
}

int records_export(const Cli *cli, int argc, char **argv)
{
    Wish wish = {0};
    const GOptionEntry entries[] = {
        {.long_name = "csv", .arg = G_OPTION_ARG_NONE, .arg_data = &wish.csv},
        {.long_name = "out", .arg = G_OPTION_ARG_FILENAME, .arg_data = &wish.out},
        {0},
    };

    if (!cli_options(&COMMAND_RECORDS, entries, &argc, &argv)) return EXIT_USE;
    g_autofree char *out = wish.out;
    if (argc > 1 || out == NULL || !wish.csv)
        return cli_fault(EXIT_USE, "records export", argc > 1 ? argv[1] : "",
                         "needs --csv and --out DIR; try: osier records --help");
    return export_csv(cli, out);
}
