/* SPDX-License-Identifier: Apache-2.0 */
/* osier size: how a text travels as SMS. */
#include <stdio.h>
#include <string.h>

#include "core/talk/sms.h"
#include "daemon/cli/cli.h"

static void tell(const char *text, SmsSize size)
{
    const char *outside = sms_outside(text);

    printf("%s, %d unit%s, %d segment%s\n", size.ucs2 ? "UCS-2" : "GSM-7", size.units,
           size.units == 1 ? "" : "s", size.segments, size.segments == 1 ? "" : "s");
    if (outside != NULL)
        printf("outside GSM-7: %.*s, character %ld\n", (int)(g_utf8_next_char(outside) - outside),
               outside, g_utf8_pointer_to_offset(text, outside) + 1);
}

static int run(const Cli *cli, int argc, char **argv)
{
    const GOptionEntry entries[] = {{NULL}};

    if (!cli_options(&COMMAND_SIZE, entries, &argc, &argv)) return EXIT_USE;
    int first = argc > 1 && strcmp(argv[1], "--") == 0 ? 2 : 1;
    if (argc - first != 1)
        return cli_fault(EXIT_USE, "size", argc > first ? argv[first + 1] : "",
                         "takes one TEXT, in quotes");
    const char *text = argv[first];
    if (!g_utf8_validate(text, -1, NULL)) {
        g_autofree char *shown = g_utf8_make_valid(text, -1);
        return cli_fault(EXIT_DATA, "size", shown, "is not UTF-8");
    }
    SmsSize size = sms_size(text);
    if (cli->json)
        cli_json(sms_size_json(size));
    else
        tell(text, size);
    return EXIT_OK;
}

const Command COMMAND_SIZE = {
    .name = "size",
    .summary = "how a text travels as SMS: alphabet, units, segments",
    .usage = "[--json] TEXT",
    .help =
        "Counts as 3GPP TS 23.038 and 23.040 do: 160 septets or 70 UCS-2 units in one segment,\n"
        "153 or 67 in each of several. One character outside GSM-7 makes the whole text UCS-2.\n\n"
        "  osier size \"Hip 45° today\"\n",
    .run = run,
};
