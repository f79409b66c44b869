/* SPDX-License-Identifier: Apache-2.0 */
/* osier check-program: does a program speak as docs/program-gateway.md has it? */
#include <signal.h>
#include <stdio.h>
#include <string.h>

#include "adapters/program/program.h"
#include "adapters/program/talk.h"
#include "daemon/cli/cli.h"

#define ANSWER_MS 10000
#define ONE_ID "00000000000000000000000000000001"
#define OTHER_ID "00000000000000000000000000000002"

typedef struct {
    uv_loop_t loop;
    Program *program; /* NULL once it has ended */
    const char *to;
    bool keyed;
    bool asked;
    TalkType wants; /* the type of line that is waited for */
    Talk heard;     /* the last such line */
    bool has_heard;
    bool is_late;
    char *ended;
    json_t *results;
    bool failed;
} Trial;

static void on_line(const char *line, size_t length, void *context)
{
    Trial *trial = context;
    Talk talk;

    talk_read(line, length, &talk);
    if (talk.type != trial->wants || trial->has_heard) {
        talk_clear(&talk);
        return;
    }
    talk_clear(&trial->heard);
    trial->heard = talk;
    trial->has_heard = true;
}

static void on_late(void *context)
{
    ((Trial *)context)->is_late = true;
}

static void on_ended(const char *why, void *context)
{
    Trial *trial = context;

    trial->program = NULL;
    trial->ended = g_strdup(why);
}

/* Waits for a line of that type; true where it came in time. */
static bool wait_for(Trial *trial, TalkType wants)
{
    trial->wants = wants;
    trial->has_heard = trial->is_late = false;
    if (trial->program != NULL) program_wait(trial->program, ANSWER_MS);
    while (trial->program != NULL && !trial->has_heard && !trial->is_late)
        uv_run(&trial->loop, UV_RUN_ONCE);
    return trial->has_heard;
}

/* Says a line (freed), and waits. */
static bool ask(Trial *trial, char *line, TalkType wants)
{
    if (trial->program != NULL) program_say(trial->program, line);
    g_free(line);
    return wait_for(trial, wants);
}

static bool result(Trial *trial, bool good, const char *what)
{
    json_array_append_new(trial->results, json_pack("{s:s, s:b}", "check", what, "good", good));
    trial->failed = trial->failed || !good;
    return good;
}

static bool answers_for(const Trial *trial, const char *id)
{
    return g_strcmp0(trial->heard.id, id) == 0;
}

static void try_manners(Trial *trial)
{
    result(trial, ask(trial, talk_health(), TALK_HEALTH), "health is answered");
    if (trial->program != NULL)
        program_say(trial->program, "{\"type\":\"of-a-later-version\",\"x\":[1]}");
    result(trial, ask(trial, talk_health(), TALK_HEALTH), "a line of an unknown type is let pass");
    if (trial->program != NULL) program_say(trial->program, "this is no JSON {");
    result(trial, ask(trial, talk_health(), TALK_HEALTH),
           "a line that cannot be read does not end it");
}

static bool try_message(Trial *trial, const char *id)
{
    const Outgoing message = {
        .id = id,
        .to = trial->to,
        .text = "A test of osier's: \"quotes\", \\ and caf\xc3\xa9\nin two lines"};

    return ask(trial, talk_send(&message), TALK_FATE) && answers_for(trial, id);
}

static void try_sending(Trial *trial)
{
    if (!result(trial, try_message(trial, ONE_ID), "a message gets a fate, under its own id"))
        return;
    g_autofree char *first = g_strdup(trial->heard.settlement.gateway_id);
    bool accepted = trial->heard.settlement.fate == FATE_ACCEPTED;
    if (!result(trial, accepted, "the message is accepted")) return;
    if (trial->keyed)
        result(trial,
               try_message(trial, ONE_ID) && trial->heard.settlement.fate == FATE_ACCEPTED &&
                   g_strcmp0(first, trial->heard.settlement.gateway_id) == 0,
               "the same message again is the same to it (takes_key)");
    if (!trial->asked) return;
    result(trial,
           ask(trial, talk_ask(ONE_ID), TALK_FATE) && answers_for(trial, ONE_ID) &&
               trial->heard.settlement.fate == FATE_ACCEPTED,
           "asked, it knows the message (can_be_asked)");
    result(trial,
           ask(trial, talk_ask(OTHER_ID), TALK_FATE) && answers_for(trial, OTHER_ID) &&
               trial->heard.settlement.fate == FATE_WAITING,
           "asked for another, it says none (can_be_asked)");
}

static void try_end(Trial *trial)
{
    bool runs = result(trial, trial->program != NULL, "it still runs");

    if (!runs) return;
    program_stop(trial->program);
    while (trial->program != NULL)
        uv_run(&trial->loop, UV_RUN_ONCE);
    result(trial, strstr(trial->ended, "code") != NULL, "it ends when its input is closed");
}

static void try_all(Trial *trial)
{
    bool greets = ask(trial, talk_hello("check"), TALK_HELLO);

    if (result(trial, greets, "it says hello") &&
        result(trial, trial->heard.version == TALK_VERSION, "it speaks version 1")) {
        try_manners(trial);
        try_sending(trial);
    }
    try_end(trial);
}

static void print_results(const Cli *cli, Trial *trial)
{
    json_t *one;
    size_t i;

    if (cli->json) {
        cli_json(json_pack("{s:b, s:O, s:s?}", "good", !trial->failed, "checks", trial->results,
                           "ended", trial->ended));
        return;
    }
    json_array_foreach(trial->results, i, one)
    {
        printf("%s  %s\n", json_is_true(json_object_get(one, "good")) ? "good" : "BAD ",
               json_string_value(json_object_get(one, "check")));
    }
    if (trial->failed && trial->ended != NULL) printf("      the program %s\n", trial->ended);
}

static void close_trial(Trial *trial)
{
    if (trial->program != NULL) program_kill(trial->program, "given up");
    uv_run(&trial->loop, UV_RUN_DEFAULT);
    uv_loop_close(&trial->loop);
    talk_clear(&trial->heard);
    json_decref(trial->results);
    g_free(trial->ended);
}

static int run(const Cli *cli, int argc, char **argv)
{
    Trial trial = {0};
    g_autofree char *to = NULL;
    gboolean keyed = FALSE, asked = FALSE;
    const GOptionEntry entries[] = {
        {"to", 0, 0, G_OPTION_ARG_STRING, &to, "the number that is written to", "NUMBER"},
        {"takes-key", 0, 0, G_OPTION_ARG_NONE, &keyed, "it drops a second message of one id", NULL},
        {"can-be-asked", 0, 0, G_OPTION_ARG_NONE, &asked, "it tells of a message by its id", NULL},
        {NULL, 0, 0, 0, NULL, NULL, NULL}};
    g_autofree char *why = NULL;
    const ProgramEars ears = {
        .line = on_line, .late = on_late, .ended = on_ended, .context = &trial};

    if (!cli_options(&COMMAND_CHECK_PROGRAM, entries, &argc, &argv)) return EXIT_USE;
    int first = argc > 1 && strcmp(argv[1], "--") == 0 ? 2 : 1;
    if (argc <= first)
        return cli_fault(EXIT_USE, "check-program", "", "name the program and the words for it");
    signal(SIGPIPE, SIG_IGN);                     /* it may end while it is spoken to */
    trial.to = to != NULL ? to : "+442079460000"; /* reserved for drama: nobody has it */
    trial.results = json_array();
    trial.keyed = keyed;
    trial.asked = asked;
    uv_loop_init(&trial.loop);
    trial.program =
        program_start(&trial.loop, (const char *const *)argv + first, cli->clinic, &ears, &why);
    if (trial.program == NULL) {
        close_trial(&trial);
        return cli_fault(EXIT_NO_SUCH, "check-program", argv[first], "%s", why);
    }
    try_all(&trial);
    print_results(cli, &trial);
    int code = trial.failed ? EXIT_DATA : EXIT_OK;
    close_trial(&trial);
    return code;
}

const Command COMMAND_CHECK_PROGRAM = {
    .name = "check-program",
    .summary = "try a program that is to be a gateway",
    .usage = "[--to NUMBER] [--takes-key] [--can-be-asked] -- PROGRAM WORD...",
    .help = "Starts it in the clinic's folder, speaks with it as osierd would, and prints a line "
            "for each "
            "thing that it must do. It is given ONE MESSAGE TO SEND, to a number that nobody has "
            "unless "
            "--to says another. docs/program-gateway.md has the rules.\n\n"
            "  osier check-program --to +442079460001 -- programs/modem /dev/ttyUSB0",
    .run = run,
};
