/* SPDX-License-Identifier: Apache-2.0 */
/* osier records calendar: a client's sessions, or the clinic's review dates, as a calendar file. */
#include <stdio.h>

#include "daemon/cli/records.h"
#include "daemon/cli/remote.h"

typedef struct {
    char *out;
    gboolean reviews;
    gboolean link;
    gboolean revoke;
    char *by;
} Wish;

static int save(const Cli *cli, const Wish *wish, const char *path)
{
    json_t *answer = NULL;
    int code = remote_call(cli, "GET", path, json_object(), &answer);

    if (code != EXIT_OK) return code;
    code =
        cli_make_file("--out", wish->out, json_string_value(json_object_get(answer, "calendar")));
    if (code == EXIT_OK && cli->json) {
        json_object_del(answer, "calendar");
        json_object_set_new(answer, "out", cli_path(wish->out));
        cli_json(json_incref(answer));
    } else if (code == EXIT_OK) {
        printf("%s\n", wish->out);
    }
    json_decref(answer);
    return code;
}

static void show_link(const json_t *answer)
{
    const json_t *warnings = json_object_get(answer, "warnings");

    printf("%s\n\nFor the client's calendar program, which asks there for changes. Whoever has the "
           "link sees when the\nsessions are, and nothing else; it is told here and nowhere else, "
           "and a new one takes its place.\nTo take it back: osier records calendar %s --revoke\n",
           json_string_value(json_object_get(answer, "link")),
           json_string_value(json_object_get(answer, "client")));
    for (size_t i = 0; i < json_array_size(warnings); i++)
        printf("%s\n", json_string_value(json_array_get(warnings, i)));
}

/* A fresh link, or the end of the one that there is. */
static int change_link(const Cli *cli, const Wish *wish, const char *client)
{
    g_autofree char *path =
        g_strdup_printf("/clients/%s/feed%s", client, wish->revoke ? "/revoke" : "");
    json_t *answer = NULL;
    int code = remote_call(cli, "POST", path, json_pack("{s:s?}", "by", wish->by), &answer);

    if (code != EXIT_OK) return code;
    if (cli->json)
        cli_json(json_incref(answer));
    else if (wish->link)
        show_link(answer);
    else
        puts("the link leads nowhere any more");
    json_decref(answer);
    return EXIT_OK;
}

static int run(const Cli *cli, const Wish *wish, int argc, char **argv)
{
    int ways = (wish->out != NULL) + wish->link + wish->revoke;

    if (argc != 2 - wish->reviews || ways != 1 || (wish->reviews && wish->out == NULL))
        return cli_fault(EXIT_USE, "records calendar", argc > 1 ? argv[argc - 1] : "",
                         "needs CLIENT and one of --out FILE.ics, --link, --revoke; or --reviews "
                         "--out FILE.ics");
    g_autofree char *id = remote_id(wish->reviews ? "" : argv[1]);
    if (id == NULL) return EXIT_NO_SUCH;
    if (wish->out == NULL) return change_link(cli, wish, id);
    g_autofree char *path =
        wish->reviews ? g_strdup("/reviews") : g_strdup_printf("/clients/%s/calendar", id);
    return save(cli, wish, path);
}

int records_calendar(const Cli *cli, int argc, char **argv)
{
    Wish wish = {0};
    const GOptionEntry entries[] = {
        {.long_name = "out", .arg = G_OPTION_ARG_FILENAME, .arg_data = &wish.out},
        {.long_name = "reviews", .arg = G_OPTION_ARG_NONE, .arg_data = &wish.reviews},
        {.long_name = "link", .arg = G_OPTION_ARG_NONE, .arg_data = &wish.link},
        {.long_name = "revoke", .arg = G_OPTION_ARG_NONE, .arg_data = &wish.revoke},
        {.long_name = "by", .arg = G_OPTION_ARG_FILENAME, .arg_data = &wish.by},
        {0},
    };
    int code = EXIT_USE;

    if (cli_options(&COMMAND_RECORDS, entries, &argc, &argv)) code = run(cli, &wish, argc, argv);
    g_free(wish.out);
    g_free(wish.by);
    return code;
}
