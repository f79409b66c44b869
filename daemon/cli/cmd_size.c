/* SPDX-License-Identifier: Apache-2.0 */
/* osier size: how a text travels as SMS. */
#include <stdio.h>
#include <string.h>

#include "core/talk/sms.h"
#include "daemon/cli/cli.h"
#include "daemon/cli/lines.h"

static void tell_size(SmsSize size)
{
    printf("%s, %d unit%s, %d segment%s\n", size.ucs2 ? "UCS-2" : "GSM-7", size.units,
           size.units == 1 ? "" : "s", size.segments, size.segments == 1 ? "" : "s");
}

static void tell_outside(const char *text)
{
    const char *outside = sms_outside(text);

    if (outside != NULL)
        printf("outside GSM-7: %.*s, character %ld\n", (int)(g_utf8_next_char(outside) - outside),
               outside, g_utf8_pointer_to_offset(text, outside) + 1);
}

/* As it is written, and as osier would send it. */
static void tell(const char *text)
{
    g_autofree char *plain = sms_plain(text);

    tell_size(sms_size(text));
    tell_outside(text);
    if (strcmp(plain, text) == 0) return;
    printf("sent with look-alikes of GSM-7: %s\n", plain);
    tell_size(sms_size(plain));
    tell_outside(plain);
}

/* The same; "sent" only where that is another text. */
static json_t *size_json(const char *text)
{
    g_autofree char *plain = sms_plain(text);
    json_t *document = sms_size_json(sms_size(text));

    if (strcmp(plain, text) != 0) {
        json_t *sent = sms_size_json(sms_size(plain));
        json_object_set_new(sent, "text", json_string(plain));
        json_object_set_new(document, "sent", sent);
    }
    return document;
}

static int size_one(const Cli *cli, const char *text, size_t length)
{
    if (!g_utf8_validate(text, (gssize)length, NULL))
        return cli_fault(EXIT_DATA, "size", text, "is not UTF-8");
    if (cli->json)
        cli_json(size_json(text));
    else
        tell(text);
    return EXIT_OK;
}

static int size_lines(const Cli *cli)
{
    GString *line = g_string_new(NULL);
    int code = EXIT_OK;

    while (code == EXIT_OK && line_next(line))
        code = size_one(cli, line->str, line->len);
    g_string_free(line, TRUE);
    return code == EXIT_OK ? lines_end("size") : code;
}

static int run(const Cli *cli, int argc, char **argv)
{
    gboolean lines = FALSE;
    const GOptionEntry entries[] = {
        {"lines", 0, 0, G_OPTION_ARG_NONE, &lines, NULL, NULL},
        {NULL, 0, 0, G_OPTION_ARG_NONE, NULL, NULL, NULL},
    };

    if (!cli_options(&COMMAND_SIZE, entries, &argc, &argv)) return EXIT_USE;
    int first = argc > 1 && strcmp(argv[1], "--") == 0 ? 2 : 1;
    if (argc - first != (lines ? 0 : 1))
        return cli_fault(EXIT_USE, "size", argc > first ? argv[argc - 1] : "",
                         lines ? "takes its lines from standard input"
                               : "takes one TEXT, in quotes");
    return lines ? size_lines(cli) : size_one(cli, argv[first], strlen(argv[first]));
}

const Command COMMAND_SIZE = {
    .name = "size",
    .summary = "how a text travels as SMS: alphabet, units, segments",
    .usage = "[--json] TEXT | --lines [--json] < FILE",
    .help =
        "Counts as 3GPP TS 23.038 and 23.040 do: 160 septets or 70 UCS-2 units in one segment,\n"
        "153 or 67 in each of several. One character outside GSM-7 makes the whole text UCS-2.\n"
        "osier itself sends what looks alike in its place where the meaning stays: then both are "
        "told.\n"
        "With --lines each line of standard input is a text, and \\n in it a line break.\n\n"
        "  osier size \"Hip 45° today\"\n",
    .run = run,
};
