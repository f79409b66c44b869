/* SPDX-License-Identifier: Apache-2.0 */
/* osier number: a phone number as people write it, as it is kept. */
#include <stdio.h>
#include <string.h>

#include "core/clinic/clinic.h"
#include "daemon/cli/cli.h"
#include "daemon/cli/lines.h"

/* A list is gone through to its end: what is no number is told in its own line. */
static void number_line(const Cli *cli, const char *text, const char *country_code)
{
    const char *why = NULL;
    g_autofree char *number = phone_e164(text, country_code, &why);

    if (cli->json)
        cli_json(json_pack("{s:s?, s:s?}", "number", number, "why", number == NULL ? why : NULL));
    else
        printf("%s\n", number != NULL ? number : why);
}

static int number_one(const Cli *cli, const char *text, const char *country_code)
{
    const char *why = NULL;
    g_autofree char *number = phone_e164(text, country_code, &why);

    if (number == NULL) return cli_fault(EXIT_DATA, "number", text, "%s", why);
    number_line(cli, text, country_code);
    return EXIT_OK;
}

static int number_lines(const Cli *cli, const char *country_code)
{
    GString *line = g_string_new(NULL);

    while (line_next(line))
        number_line(cli, line->str, country_code);
    g_string_free(line, TRUE);
    return lines_end("number");
}

static int run(const Cli *cli, int argc, char **argv)
{
    g_autofree char *code = NULL;
    gboolean lines = FALSE;
    const GOptionEntry entries[] = {
        {"country-code", 0, 0, G_OPTION_ARG_STRING, &code, NULL, NULL},
        {"lines", 0, 0, G_OPTION_ARG_NONE, &lines, NULL, NULL},
        {NULL, 0, 0, G_OPTION_ARG_NONE, NULL, NULL, NULL},
    };

    if (!cli_options(&COMMAND_NUMBER, entries, &argc, &argv)) return EXIT_USE;
    int first = argc > 1 && strcmp(argv[1], "--") == 0 ? 2 : 1;
    if (argc - first != (lines ? 0 : 1))
        return cli_fault(EXIT_USE, "number", argc > first ? argv[argc - 1] : "",
                         lines ? "takes its lines from standard input"
                               : "takes one number, in quotes");
    if (code != NULL && (*code == '\0' || strlen(code) > 3 || *code == '0' ||
                         strspn(code, "0123456789") != strlen(code)))
        return cli_fault(EXIT_USE, "--country-code", code, "is 1 to 3 digits, such as 44");
    return lines ? number_lines(cli, code) : number_one(cli, argv[first], code);
}

const Command COMMAND_NUMBER = {
    .name = "number",
    .summary = "a phone number as it is kept, or why it is none",
    .usage = "[--country-code 44] [--json] TEXT | --lines [--country-code 44] [--json] < FILE",
    .help =
        "Reads a number as for a client: E.164, a national form with the country code given.\n"
        "With --lines each line of standard input is a number, and each line out says what it is\n"
        "or why it is none.\n\n"
        "  osier number --country-code 44 \"(020) 7946 0001\"\n",
    .run = run,
};
