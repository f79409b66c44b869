/* SPDX-License-Identifier: Apache-2.0 */
/* osier: the command line. Finds the command in the table and runs it. */
#include <stdio.h>
#include <string.h>

#include "daemon/cli/cli.h"
#include "daemon/cli/fill.h"
#include "daemon/cli/manual.h"
#include "daemon/version.h"

static const Command *const COMMANDS[] = {
    &COMMAND_READ,     &COMMAND_TIMES,        &COMMAND_SETUP,
    &COMMAND_SIZE,     &COMMAND_NUMBER,       &COMMAND_INIT,
    &COMMAND_REHEARSE, &COMMAND_CHECK_CONFIG, &COMMAND_CHECK_PROGRAM,
    &COMMAND_CHECK,    &COMMAND_BACKUP,       &COMMAND_RESTORE,
    &COMMAND_CLIENT,   &COMMAND_SCREEN,       &COMMAND_PLAN,
    &COMMAND_SESSIONS, &COMMAND_REPORT,       &COMMAND_MEASURE,
    &COMMAND_READY,    &COMMAND_ADHERENCE,    &COMMAND_ALERTS,
    &COMMAND_ALERT,    &COMMAND_UNREAD,       &COMMAND_GLANCE,
    &COMMAND_CALLS,    &COMMAND_WEEK,         &COMMAND_HANDOUT,
    &COMMAND_SUMMARY,  &COMMAND_MESSAGES,     &COMMAND_REPLIES,
    &COMMAND_WHY,      &COMMAND_STATUS,       &COMMAND_SYNC,
    &COMMAND_SENDER,   &COMMAND_CLOCK,        &COMMAND_ACCOUNT,
    &COMMAND_RECORDS,  &COMMAND_METRICS,      &COMMAND_PROGRAMME,
    &COMMAND_LANGUAGE, &COMMAND_MOVE,         NULL,
};

static const Command *find(const char *name)
{
    for (size_t i = 0; COMMANDS[i] != NULL; i++)
        if (strcmp(COMMANDS[i]->name, name) == 0) return COMMANDS[i];
    return NULL;
}

static void print_list(FILE *to)
{
    fputs("osier " OSIER_VERSION " keeps the thread between a physiotherapist and the people who\n"
          "stretch at home.\n\n"
          "osier COMMAND [--clinic DIR] [--json] ...     osier COMMAND --help tells more\n\n",
          to);
    for (size_t i = 0; COMMANDS[i] != NULL; i++)
        fprintf(to, "  %-14s %s\n", COMMANDS[i]->name, COMMANDS[i]->summary);
}

static void print_help(const Command *command)
{
    g_autofree char *usage = g_strdup_printf("osier %s %s", command->name, command->usage);

    fill_print(usage, "", "      ");
    putchar('\n');
    fill_help(command->help);
}

/* Takes --json, --help and --clinic out of argv, up to a lone "--". NULL, or what is wrong with --clinic. */
static const char *take_common(int *argc, char **argv, Cli *cli, bool *help)
{
    int kept = 1, folders = 0;

    for (int i = 1; i < *argc; i++) {
        if (strcmp(argv[i], "--") == 0) {
            while (i < *argc)
                argv[kept++] = argv[i++];
        } else if (strcmp(argv[i], "--json") == 0) {
            cli->json = true;
        } else if (strcmp(argv[i], "--help") == 0 || strcmp(argv[i], "-h") == 0) {
            *help = true;
        } else if (g_str_has_prefix(argv[i], "--clinic=")) {
            cli->clinic = argv[i] + strlen("--clinic=");
            folders++;
        } else if (strcmp(argv[i], "--clinic") == 0) {
            if (i + 1 >= *argc) return "needs a folder";
            cli->clinic = argv[++i];
            folders++;
        } else {
            argv[kept++] = argv[i];
        }
    }
    argv[kept] = NULL;
    *argc = kept;
    return folders > 1 ? CLI_TWICE : NULL;
}

static int run(int argc, char **argv)
{
    Cli cli = {.clinic = g_getenv("OSIER_CLINIC"), .json = false};
    bool help = false;

    const char *wrong = take_common(&argc, argv, &cli, &help);
    if (wrong != NULL) return cli_fault(EXIT_USE, "--clinic", "", "%s", wrong);
    if (cli.clinic == NULL) cli.clinic = ".";
    if (argc < 2) {
        print_list(help ? stdout : stderr);
        return help ? EXIT_OK : EXIT_USE;
    }
    if (strcmp(argv[1], "--version") == 0) {
        puts("osier " OSIER_VERSION);
        return EXIT_OK;
    }
    if (strcmp(argv[1], "--manual") == 0 || strcmp(argv[1], "--completion") == 0) {
        (argv[1][2] == 'm' ? manual_page : manual_completion)(COMMANDS);
        return EXIT_OK;
    }
    const Command *command = find(argv[1]);
    if (command == NULL)
        return cli_fault(EXIT_USE, "command", argv[1], "unknown; osier --help lists the commands");
    if (help) {
        print_help(command);
        return EXIT_OK;
    }
    return command->run(&cli, argc - 1, argv + 1);
}

int main(int argc, char **argv)
{
    cli_begin();
    return cli_end(run(argc, argv));
}
