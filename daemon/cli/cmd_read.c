/* SPDX-License-Identifier: Apache-2.0 */
/* osier read: what a reply says, as the daemon would read it. */
#include <stdio.h>
#include <string.h>

#include "adapters/files/packs.h"
#include "core/talk/reading.h"
#include "daemon/cli/cli.h"
#include "daemon/cli/lines.h"

typedef struct {
    GPtrArray *packs;     /* of Pack */
    const Pack **ordered; /* the language asked for first */
    int n;
} Readers;

static void readers_clear(Readers *readers)
{
    g_free(readers->ordered);
    g_ptr_array_unref(readers->packs);
}

/* The packs to read with; an exit code. */
static int readers_load(const Cli *cli, const char *language, Readers *readers)
{
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);

    readers->packs = packs_load(cli->clinic, messages);
    for (guint i = 0; i < messages->len; i++)
        fprintf(stderr, "%s\n", (const char *)g_ptr_array_index(messages, i));
    readers->n = (int)readers->packs->len;
    readers->ordered = g_new0(const Pack *, readers->packs->len + 1);
    for (int i = 0; i < readers->n; i++)
        readers->ordered[i] = g_ptr_array_index(readers->packs, i);
    if (readers->n == 0)
        return cli_fault(EXIT_SETTINGS, "read", "languages", "no language pack can be read");
    if (language == NULL) return EXIT_OK;
    for (int i = 0; i < readers->n; i++)
        if (strcmp(pack_language(readers->ordered[i]), language) == 0) {
            const Pack *own = readers->ordered[i];
            memmove(readers->ordered + 1, readers->ordered, sizeof(Pack *) * (size_t)i);
            readers->ordered[0] = own;
            return EXIT_OK;
        }
    return cli_fault(EXIT_USE, "--language", language, "no such language pack is installed");
}

static void print_plain(const Reading *reading)
{
    g_autofree char *intensity =
        reading->intensity >= 0 ? g_strdup_printf("%g", reading->intensity) : NULL;
    g_autofree char *pain = reading->pain_kind == PAIN_NUMBER ? g_strdup_printf("%g", reading->pain)
                            : reading->pain_kind == PAIN_SOME ? g_strdup("some")
                                                              : NULL;
    const char *done = read_done_name(reading->done);
    const char *warning = read_warning_name(reading->warning);
    const char *command = read_command_name(reading->command);

    printf("done %s, stretch %s, pain %s", done != NULL ? done : "-",
           intensity != NULL ? intensity : "-", pain != NULL ? pain : "-");
    if (warning != NULL) printf(", warning sign: %s", warning);
    if (command != NULL) printf(", command: %s", command);
    if (reading->suspend) printf(", suspends messages%s", reading->death ? " (a death)" : "");
    if (reading->wrong_number) printf(", a wrong number");
    if (reading->person) printf(", for a person");
    if (reading->rest != NULL) printf(", unread words: %s", reading->rest);
    putchar('\n');
}

static void read_one(const Cli *cli, const Readers *readers, const char *text, size_t length)
{
    g_autoptr(Reading) reading = reply_read(readers->ordered, readers->n, text, length);

    if (cli->json)
        cli_json(reading_json(reading));
    else
        print_plain(reading);
}

static int read_lines(const Cli *cli, const Readers *readers)
{
    GString *line = g_string_new(NULL);

    while (line_next(line))
        read_one(cli, readers, line->str, line->len);
    g_string_free(line, TRUE);
    return lines_end("read");
}

static int run(const Cli *cli, int argc, char **argv)
{
    g_autofree char *language = NULL;
    gboolean lines = FALSE;
    const GOptionEntry entries[] = {
        {"language", 0, 0, G_OPTION_ARG_STRING, &language, NULL, NULL},
        {"lines", 0, 0, G_OPTION_ARG_NONE, &lines, NULL, NULL},
        {NULL, 0, 0, G_OPTION_ARG_NONE, NULL, NULL, NULL},
    };
    Readers readers = {0};

    if (!cli_options(&COMMAND_READ, entries, &argc, &argv)) return EXIT_USE;
    if (argc > 1 && strcmp(argv[1], "--") == 0) {
        argc--;
        argv++;
    }
    if (lines ? argc != 1 : argc != 2)
        return cli_fault(EXIT_USE, "read", argc > 2 ? argv[2] : "",
                         lines ? "takes its lines from standard input"
                               : "takes one text, in quotes");
    int code = readers_load(cli, language, &readers);
    if (code == EXIT_OK && lines)
        code = read_lines(cli, &readers);
    else if (code == EXIT_OK)
        read_one(cli, &readers, argv[1], strlen(argv[1]));
    readers_clear(&readers);
    return code;
}

const Command COMMAND_READ = {
    .name = "read",
    .summary = "what a reply says",
    .usage = "[--language L] [--json] TEXT | --lines [--language L] [--json] < FILE",
    .help = "Reads one reply as the daemon would: session done, stretch, pain, warning signs, "
            "commands.\n"
            "With --lines each line of standard input is a reply, and \\n in it a line break.\n"
            "The language is tried first; without it, the pack that knows most of the words is "
            "taken.\n\n"
            "  osier read --language en --json \"did them, about a 4, no pain\"",
    .run = run,
};
