/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/cli/copy.h"

#include <glib/gstdio.h>

#include "daemon/cli/remote.h"

static void drop(StoreCopy *copy)
{
    g_autofree char *log = g_strconcat(copy->file, "-wal", NULL);

    g_unlink(copy->file);
    g_unlink(log);
    g_clear_pointer(&copy->file, g_free);
}

int copy_open(const Cli *cli, StoreCopy *copy)
{
    json_t *answer = NULL;
    g_autofree char *why = NULL;
    int code = remote_call(cli, "POST", "/backup", json_object(), &answer);

    if (code != EXIT_OK) return code;
    copy->file = g_strdup(json_string_value(json_object_get(answer, "file")));
    json_decref(answer);
    if (store_read_open(copy->file, &copy->tx, &why) == OPEN_OK) return EXIT_OK;
    code = cli_fault(EXIT_IO, "copy", copy->file, "%s", why);
    drop(copy);
    return code;
}

int copy_close(StoreCopy *copy, int code)
{
    g_autofree char *problem = store_read_close(copy->tx);

    if (problem != NULL) code = cli_fault(EXIT_IO, "copy", copy->file, "%s", problem);
    drop(copy);
    return code;
}
