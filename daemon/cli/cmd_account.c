/* SPDX-License-Identifier: Apache-2.0 */
/* osier account: who may enter the clinic's page, and who looked at whom. */
#include <stdio.h>

#include "daemon/cli/ask.h"
#include "daemon/cli/remote.h"

static void show_link(const json_t *answer)
{
    printf(
        "%s, %s\n\nOpen this link once, in a browser on this machine, within two days:\n\n  %s\n\n"
        "Whoever opens it chooses the password. It is told here and nowhere else.\n",
        json_string_value(json_object_get(answer, "name")),
        json_string_value(json_object_get(answer, "role")),
        json_string_value(json_object_get(answer, "link")));
}

static void show_accounts(const json_t *answer)
{
    size_t i;
    json_t *account;

    if (json_array_size(answer) == 0) printf("nobody may enter the page yet\n");
    json_array_foreach((json_t *)answer, i, account) printf(
        "%-24s %-10s %-8s since %.10s\n", json_string_value(json_object_get(account, "name")),
        json_string_value(json_object_get(account, "role")),
        json_string_value(json_object_get(account, "state")),
        json_string_value(json_object_get(account, "since")));
}

static void show_looks(const json_t *answer)
{
    size_t i;
    json_t *look;

    if (json_array_size(answer) == 0) printf("nothing was looked at or changed on the page\n");
    json_array_foreach((json_t *)answer, i, look)
    {
        const char *client = json_string_value(json_object_get(look, "client"));
        printf("%s  %-20s %-7s %-9s %s\n", json_string_value(json_object_get(look, "at")),
               json_string_value(json_object_get(look, "by")),
               json_string_value(json_object_get(look, "did")), client != NULL ? client : "-",
               json_string_value(json_object_get(look, "call")));
    }
}

static const Field CLOSE_FIELDS[] = {{"to", "to", FIELD_TEXT}, {NULL, NULL, FIELD_TEXT}};
static const Field LOOK_FIELDS[] = {
    {"client", "client", FIELD_TEXT}, {"since", "since", FIELD_TEXT}, {NULL, NULL, FIELD_TEXT}};

static const Ask ACCOUNT_ASKS[] = {
    {"list", "GET", "/accounts", NULL, show_accounts, false},
    {"link", "POST", "/accounts/{id}/link", NULL, show_link, false},
    {"close", "POST", "/accounts/{id}/close", CLOSE_FIELDS, show_plain, false},
    {"looks", "GET", "/looks", LOOK_FIELDS, show_looks, false},
    {NULL, "GET", "/accounts", NULL, show_accounts, false},
};

static int add_account(const Cli *cli, int argc, char **argv)
{
    g_autofree char *role = NULL;
    const GOptionEntry entries[] = {
        {"role", 0, 0, G_OPTION_ARG_STRING, &role, "", ""},
        {NULL, 0, 0, 0, NULL, NULL, NULL},
    };
    json_t *answer;

    if (!cli_options(&COMMAND_ACCOUNT, entries, &argc, &argv)) return EXIT_USE;
    if (argc != 3 || role == NULL)
        return cli_fault(EXIT_USE, "account", "add",
                         "write: osier account add \"R. Okafor\" --role clinician|desk");
    json_t *body = json_pack("{s:s, s:s}", "name", argv[2], "role", role);
    if (body == NULL) return cli_fault(EXIT_DATA, "name", "", "is no valid UTF-8");
    int code = remote_call(cli, "POST", "/accounts", body, &answer);
    if (code != EXIT_OK) return code;
    const json_t *warnings = json_object_get(answer, "warnings");
    for (size_t i = 0; i < json_array_size(warnings); i++)
        g_printerr("osier: note: %s\n", json_string_value(json_array_get(warnings, i)));
    if (cli->json) {
        cli_json(answer);
        return EXIT_OK;
    }
    show_link(answer);
    json_decref(answer);
    return EXIT_OK;
}

static int run_account(const Cli *cli, int argc, char **argv)
{
    if (argc > 1 && g_strcmp0(argv[1], "add") == 0) return add_account(cli, argc, argv);
    return ask_run(cli, &COMMAND_ACCOUNT, ACCOUNT_ASKS, G_N_ELEMENTS(ACCOUNT_ASKS), argc, argv);
}

const Command COMMAND_ACCOUNT = {
    .name = "account",
    .summary = "say who may enter the clinic's page, and see who looked at whom",
    .usage = "add NAME --role clinician|desk | link NAME | list | close NAME [--to NAME] | looks "
             "[--client ID] [--since T]",
    .help = "  osier account add \"R. Okafor\" --role clinician\n"
            "  osier account close \"R. Okafor\" --to \"J. Lindqvist\"\n"
            "  osier account looks --client K7QF\n\n"
            "add and link print a one-time link, which sets the password. The page is served once "
            "there is an account.\n"
            "The desk sees everything and settles replies; stages, screens, limits of pain and the "
            "lifting of holds are for\n"
            "clinicians. close hands clients and taken alerts over to somebody else; the name is "
            "not used again.",
    .run = run_account,
};
