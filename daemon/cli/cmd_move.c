/* SPDX-License-Identifier: Apache-2.0 */
/* osier move: a clinic's store goes from its file to the schema that the settings name, or back. */
#include <stdio.h>
#include <string.h>

#include "daemon/cli/place.h"

static int exit_code(MoveResult result)
{
    switch (result) {
    case MOVE_DONE: return EXIT_OK;
    case MOVE_IN_USE: return EXIT_LATER;
    case MOVE_NO_SOURCE: return EXIT_NO_SUCH;
    case MOVE_UNSOUND: return EXIT_DATA;
    case MOVE_TAKEN: return EXIT_CANNOT_MAKE;
    case MOVE_CANNOT: return EXIT_IO;
    }
    return EXIT_IO;
}

static const char *advice(MoveResult result)
{
    switch (result) {
    case MOVE_IN_USE: return "; stop osierd first";
    case MOVE_UNSOUND: return "; osier check tells more";
    default: return "";
    }
}

typedef struct {
    int64_t events;
    char *digest;
    char *aside;
    char *why;
} Account;

static int tell(const Cli *cli, const char *from, const char *to, const Account *account,
                bool to_file)
{
    if (cli->json) {
        cli_json(json_pack("{s:s, s:s, s:I, s:s, s:s}", "from", from, "to", to, "events",
                           (json_int_t)account->events, "digest", account->digest, "aside",
                           account->aside));
        return EXIT_OK;
    }
    printf("%s: %" G_GINT64_FORMAT " events and all tables are in %s now: digest %s of both.\n"
           "The old store is put aside as %s; remove it when you have a backup of the new one.\n",
           from, account->events, to, account->digest, account->aside);
    if (to_file) puts("Take store: out of clinic.yaml before you start osierd.");
    return EXIT_OK;
}

static int move(const Cli *cli, const ClinicPlace *place, bool to_file)
{
    const StorePlace file = {.file = place->file}, schema = {.schema = &place->schema};
    const StorePlace *from = to_file ? &schema : &file, *to = to_file ? &file : &schema;
    Account account = {0};
    MoveResult result = store_place_move(from, to, g_get_real_time() / 1000, &account.events,
                                         &account.digest, &account.aside, &account.why);
    int code = result == MOVE_DONE
                   ? tell(cli, store_place_name(from), store_place_name(to), &account, to_file)
                   : cli_fault(exit_code(result), "move", to_file ? "sqlite" : "postgres", "%s%s",
                               account.why, advice(result));

    g_free(account.digest);
    g_free(account.aside);
    g_free(account.why);
    return code;
}

static int run(const Cli *cli, int argc, char **argv)
{
    g_autofree char *to = NULL;
    const GOptionEntry entries[] = {
        {.long_name = "to", .arg = G_OPTION_ARG_STRING, .arg_data = &to},
        {0},
    };
    g_auto(ClinicPlace) place = {0};

    if (!cli_options(&COMMAND_MOVE, entries, &argc, &argv)) return EXIT_USE;
    if (argc > 1)
        return cli_fault(EXIT_USE, "move", argv[1], "takes no words; try: osier move --help");
    if (g_strcmp0(to, "postgres") != 0 && g_strcmp0(to, "sqlite") != 0)
        return cli_fault(EXIT_USE, "--to", to, "must be postgres or sqlite");
    clinic_place_read(cli, &place);
    if (place.settings == NULL)
        return cli_fault(EXIT_SETTINGS, "clinic", cli->clinic, "%s",
                         place.faults->len > 0 ? (const char *)place.faults->pdata[0]
                                               : "its settings cannot be read");
    if (place.schema.schema == NULL)
        return cli_fault(EXIT_SETTINGS, "clinic", cli->clinic,
                         "clinic.yaml names no schema; write store: {kind: postgres, connect: ..., "
                         "schema: ...} first");
    return move(cli, &place, strcmp(to, "sqlite") == 0);
}

const Command COMMAND_MOVE = {
    .name = "move",
    .summary = "move the store to a PostgreSQL schema, or back (osierd stopped)",
    .usage = "--to postgres|sqlite",
    .help =
        "The schema is the one that store: in clinic.yaml names; it must be empty, or not there "
        "yet. The store is\n"
        "checked, copied whole, read again in both places, and only then is the old one put aside "
        "under another\n"
        "name, which nothing opens. Cut short, a move is done again. After --to sqlite take store: "
        "out of clinic.yaml.\n"
        "Exit code 65 where the store is not sound, 66 where there is none, 73 where another store "
        "is in the way,\n"
        "75 while osierd runs, 78 where clinic.yaml names no schema.\n\n"
        "  osier move --to postgres --clinic /srv/clinic",
    .run = run,
};
