/* SPDX-License-Identifier: Apache-2.0 */
/* Commands about the clinic's replicas: which of them sends, and how they stand to one another. */
#include <stdio.h>

#include "daemon/cli/ask.h"

static const char *text(const json_t *object, const char *field)
{
    const char *value = json_string_value(json_object_get(object, field));

    return value != NULL ? value : "-";
}

static void show_sender(const json_t *answer)
{
    const char *why = json_string_value(json_object_get(answer, "why"));
    int epoch = (int)json_integer_value(json_object_get(answer, "epoch"));

    if (why != NULL)
        printf("this replica sends nothing: %s\n", why);
    else if (epoch == 0)
        puts("this replica sends: it is the clinic's first, and nobody gave the duty to another");
    else
        printf("this replica sends, epoch %d, since %s, by %s\n", epoch, text(answer, "since"),
               text(answer, "by"));
}

static void show_sync(const json_t *answer)
{
    const json_t *peers = json_object_get(answer, "peers");

    printf("replica %s\n  ", text(answer, "name"));
    show_sender(json_object_get(answer, "sender"));
    if (json_array_size(peers) == 0) puts("  no other replica is paired with this one");
}

static const Field TAKE_FIELDS[] = {{"by", "by", FIELD_TEXT}, {NULL, NULL, FIELD_TEXT}};

static const Ask SENDER_ASKS[] = {
    {"show", "GET", "/sender", NULL, show_sender, false},
    {"take", "POST", "/sender", TAKE_FIELDS, show_sender, false},
};

static int run_sender(const Cli *cli, int argc, char **argv)
{
    return ask_run(cli, &COMMAND_SENDER, SENDER_ASKS, G_N_ELEMENTS(SENDER_ASKS), argc, argv);
}

const Command COMMAND_SENDER = {
    .name = "sender",
    .summary = "tell or change which replica of the clinic sends",
    .usage = "show | take --by NAME",
    .help = "  osier sender show\n"
            "  osier sender take --by \"R. Okafor\"\n\n"
            "Exactly one replica plans, sends, receives and calls clinicians; every other records "
            "what is entered. take\n"
            "gives the duty to the replica that is asked, with the next epoch. The one that had it "
            "stops as soon as it\n"
            "hears; until then it sends as well, so switch it off first where that can be done.",
    .run = run_sender,
};

static const Ask SYNC_ASKS[] = {
    {"status", "GET", "/sync", NULL, show_sync, false},
};

static int run_sync(const Cli *cli, int argc, char **argv)
{
    return ask_run(cli, &COMMAND_SYNC, SYNC_ASKS, G_N_ELEMENTS(SYNC_ASKS), argc, argv);
}

const Command COMMAND_SYNC = {
    .name = "sync",
    .summary = "tell how the clinic's replicas stand to one another",
    .usage = "status",
    .help = "  osier sync status",
    .run = run_sync,
};
