/* SPDX-License-Identifier: Apache-2.0 */
/* osier check-program: does a program speak as docs/program-gateway.md has it? */
#include <signal.h>
#include <stdio.h>
#include <string.h>

#include "adapters/program/program.h"
#include "adapters/program/talk.h"
#include "daemon/cli/cli.h"

#define ANSWER_MS 10000
#define TAKEN_MS 2000 /* what was on its way when it was taken */
#define AT_ONCE_MOST 32
#define INCOMING_MOST_S 3600
#define ONE_ID "00000000000000000000000000000001"
#define OTHER_ID "00000000000000000000000000000002"

typedef struct {
    uv_loop_t loop;
    Program *program; /* NULL once it has ended */
    const char *to;
    bool keyed;
    bool asked;
    int at_once;       /* messages; 0: not tried */
    int incoming_s;    /* how long to wait for a message that comes in; 0: not tried */
    GHashTable *fates; /* id -> how often it was given one */
    const char *taken; /* the id of the message that came in, once it is taken */
    int told_again;    /* how often that was told since */
    TalkType wants;    /* the type of line that is waited for */
    Talk heard;        /* the last such line */
    bool has_heard;
    bool is_late;
    char *ended;
    json_t *results;
    bool failed;
} Trial;

static int fates_of(const Trial *trial, const char *id)
{
    return GPOINTER_TO_INT(g_hash_table_lookup(trial->fates, id));
}

static void on_line(const char *line, size_t length, void *context)
{
    Trial *trial = context;
    Talk talk;

    talk_read(line, length, &talk);
    if (talk.type == TALK_FATE)
        g_hash_table_insert(trial->fates, g_strdup(talk.id),
                            GINT_TO_POINTER(fates_of(trial, talk.id) + 1));
    if (talk.type == TALK_INCOMING && g_strcmp0(talk.id, trial->taken) == 0) trial->told_again++;
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

typedef bool Seen(const Trial *trial);

/* Listens until that is seen, or so long; false where it is not. */
static bool listen_for(Trial *trial, Seen *seen, int64_t ms)
{
    trial->is_late = false;
    if (trial->program != NULL) program_wait(trial->program, ms);
    while (trial->program != NULL && !seen(trial) && !trial->is_late)
        uv_run(&trial->loop, UV_RUN_ONCE);
    return seen(trial);
}

static bool has_heard(const Trial *trial)
{
    return trial->has_heard;
}

static bool never(const Trial *trial)
{
    (void)trial;
    return false;
}

/* Waits for a line of that type; true where it came in time. */
static bool wait_for(Trial *trial, TalkType wants, int64_t ms)
{
    trial->wants = wants;
    trial->has_heard = false;
    return listen_for(trial, has_heard, ms);
}

/* Says a line (freed), and waits. */
static bool ask(Trial *trial, char *line, TalkType wants)
{
    if (trial->program != NULL) program_say(trial->program, line);
    g_free(line);
    return wait_for(trial, wants, ANSWER_MS);
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

/* The line that sends a message of that id (g_free). */
static char *message_line(const Trial *trial, const char *id)
{
    return talk_send(
        &(Outgoing){.id = id,
                    .to = trial->to,
                    .text = "A test of osier's: \"quotes\", \\ and caf\xc3\xa9\nin two lines"});
}

static bool try_message(Trial *trial, const char *id)
{
    return ask(trial, message_line(trial, id), TALK_FATE) && answers_for(trial, id);
}

/* The id of the n-th of several (g_free). */
static char *id_of_many(int n)
{
    return g_strdup_printf("%032X", 0x100 + (unsigned)n);
}

static bool all_have_fates(const Trial *trial)
{
    for (int i = 0; i < trial->at_once; i++) {
        g_autofree char *id = id_of_many(i);
        if (fates_of(trial, id) == 0) return false;
    }
    return true;
}

static void try_many(Trial *trial)
{
    bool once = true;

    for (int i = 0; i < trial->at_once && trial->program != NULL; i++) {
        g_autofree char *id = id_of_many(i);
        g_autofree char *line = message_line(trial, id);
        program_say(trial->program, line);
    }
    bool all = listen_for(trial, all_have_fates, (int64_t)ANSWER_MS * trial->at_once);
    for (int i = 0; i < trial->at_once; i++) {
        g_autofree char *id = id_of_many(i);
        once = once && fates_of(trial, id) == 1;
    }
    result(trial, all && once, "several messages at once get a fate each, once (concurrency)");
}

static void try_incoming(Trial *trial)
{
    int64_t wait_ms = (int64_t)trial->incoming_s * 1000;

    fprintf(stderr, "osier: have a message come in now, within %d s\n", trial->incoming_s);
    bool came = wait_for(trial, TALK_INCOMING, wait_ms);
    const Incoming *incoming = trial->heard.incoming;
    if (!result(trial, came, "a message that comes in is told")) return;
    result(trial, incoming->problem == NULL, "it has a sender and a text");
    g_autofree char *id = g_strdup(trial->heard.id);
    g_autofree char *line = talk_taken(id);
    trial->taken = id;
    if (trial->program != NULL) program_say(trial->program, line);
    listen_for(trial, never, TAKEN_MS);
    trial->told_again = 0;
    listen_for(trial, never, wait_ms);
    trial->taken = NULL;
    result(trial, trial->told_again == 0, "once it is taken it is not told again");
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
        if (trial->at_once > 0) try_many(trial);
        if (trial->incoming_s > 0) try_incoming(trial);
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
    g_hash_table_unref(trial->fates);
    json_decref(trial->results);
    g_free(trial->ended);
}

static bool is_within(const char *option, int value, int most)
{
    g_autofree char *text = g_strdup_printf("%d", value);

    if (value >= 0 && value <= most) return true;
    cli_fault(EXIT_USE, option, text, "must be from 0 to %d", most);
    return false;
}

static bool check_numbers(const Trial *trial)
{
    return is_within("at-once", trial->at_once, AT_ONCE_MOST) &&
           is_within("incoming", trial->incoming_s, INCOMING_MOST_S);
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
        {"at-once", 0, 0, G_OPTION_ARG_INT, &trial.at_once,
         "so many more messages at once, as concurrency has it", "N"},
        {"incoming", 0, 0, G_OPTION_ARG_INT, &trial.incoming_s,
         "wait so long for a message that comes in", "SECONDS"},
        {NULL, 0, 0, 0, NULL, NULL, NULL}};
    g_autofree char *why = NULL;
    const ProgramEars ears = {
        .line = on_line, .late = on_late, .ended = on_ended, .context = &trial};

    if (!cli_options(&COMMAND_CHECK_PROGRAM, entries, &argc, &argv)) return EXIT_USE;
    int first = argc > 1 && strcmp(argv[1], "--") == 0 ? 2 : 1;
    if (argc <= first)
        return cli_fault(EXIT_USE, "check-program", "", "name the program and the words for it");
    if (!check_numbers(&trial)) return EXIT_USE;
    signal(SIGPIPE, SIG_IGN);                     /* it may end while it is spoken to */
    trial.to = to != NULL ? to : "+442079460000"; /* reserved for drama: nobody has it */
    trial.fates = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
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
    .usage = "[--to NUMBER] [--takes-key] [--can-be-asked] [--at-once N] [--incoming SECONDS] -- "
             "PROGRAM WORD...",
    .help =
        "Starts it in the clinic's folder, speaks with it as osierd would, and prints a line "
        "for each "
        "thing that it must do. It is given ONE MESSAGE TO SEND, to a number that nobody has "
        "unless "
        "--to says another, and with --at-once N so many more. With --incoming, send it a message "
        "meanwhile: it is heard, taken, and must not be told again in as many seconds. Receipts "
        "are not tried. docs/program-gateway.md has the rules, and all that is not tried.\n\n"
        "  osier check-program --to +442079460001 -- programs/modem /dev/ttyUSB0",
    .run = run,
};
