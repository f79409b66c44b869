/* SPDX-License-Identifier: Apache-2.0 */
/* osier records calendar: a client's sessions, or the clinic's review dates, as a calendar file. */
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "daemon/cli/records.h"
#include "daemon/cli/remote.h"

static int write_file(const char *path, const char *text)
{
    int file = open(path, O_CREAT | O_EXCL | O_WRONLY | O_CLOEXEC | O_NOFOLLOW, 0600);
    size_t length = strlen(text);

    if (file < 0)
        return cli_fault(EXIT_CANNOT_MAKE, "--out", path, "cannot be made: %s", g_strerror(errno));
    bool kept = write(file, text, length) == (ssize_t)length && fsync(file) == 0;
    int error = errno;
    if (close(file) != 0 || !kept)
        return cli_fault(EXIT_IO, "--out", path, "cannot be written: %s", g_strerror(error));
    return EXIT_OK;
}

int records_calendar(const Cli *cli, int argc, char **argv)
{
    g_autofree char *out = NULL;
    gboolean reviews = FALSE;
    const GOptionEntry entries[] = {
        {.long_name = "out", .arg = G_OPTION_ARG_FILENAME, .arg_data = &out},
        {.long_name = "reviews", .arg = G_OPTION_ARG_NONE, .arg_data = &reviews},
        {0},
    };
    json_t *answer = NULL;

    if (!cli_options(&COMMAND_RECORDS, entries, &argc, &argv)) return EXIT_USE;
    if (argc != 2 - reviews || out == NULL)
        return cli_fault(EXIT_USE, "records calendar", argc > 1 ? argv[argc - 1] : "",
                         "needs CLIENT --out FILE.ics, or --reviews --out FILE.ics");
    g_autofree char *id = g_uri_escape_string(reviews ? "" : argv[1], NULL, FALSE);
    g_autofree char *path =
        reviews ? g_strdup("/reviews") : g_strdup_printf("/clients/%s/calendar", id);
    int code = remote_call(cli, "GET", path, json_object(), &answer);
    if (code != EXIT_OK) return code;
    code = write_file(out, json_string_value(json_object_get(answer, "calendar")));
    if (code == EXIT_OK && cli->json) {
        json_object_del(answer, "calendar");
        json_object_set_new(answer, "out", json_string(out));
        cli_json(json_incref(answer));
    } else if (code == EXIT_OK) {
        printf("%s\n", out);
    }
    json_decref(answer);
    return code;
}
