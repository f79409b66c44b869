/* SPDX-License-Identifier: Apache-2.0 */
/* Commands for the clinic's day: alerts, replies that wait, calls, messages, the week, status. */
#include "daemon/cli/ask.h"

#include <stdio.h>

#include "daemon/cli/paper.h"
#include "daemon/cli/remote.h"

static const Field ALL_FIELDS[] = {{"all", "all", FIELD_FLAG}, {NULL, NULL, FIELD_TEXT}};

static const Ask ALERTS_ASKS[] = {{NULL, "GET", "/alerts", ALL_FIELDS, show_alerts, false}};

static int run_alerts(const Cli *cli, int argc, char **argv)
{
    return ask_run(cli, &COMMAND_ALERTS, ALERTS_ASKS, G_N_ELEMENTS(ALERTS_ASKS), argc, argv);
}

const Command COMMAND_ALERTS = {
    .name = "alerts",
    .summary = "list what a clinician must act on",
    .usage = "[--all]",
    .help = "  osier alerts\n\nNow first, then today, then those for the digest. --all shows "
            "closed ones too.",
    .run = run_alerts,
};

static const Field TAKE_FIELDS[] = {{"by", "by", FIELD_TEXT}, {NULL, NULL, FIELD_TEXT}};
static const Field CLOSE_FIELDS[] = {{"outcome", "outcome", FIELD_TEXT},
                                     {"by", "by", FIELD_TEXT},
                                     {"note", "note", FIELD_TEXT},
                                     {NULL, NULL, FIELD_TEXT}};
static const Field OPEN_FIELDS[] = {{"kind", "kind", FIELD_TEXT},
                                    {"words", "words", FIELD_TEXT},
                                    {"by", "by", FIELD_TEXT},
                                    {NULL, NULL, FIELD_TEXT}};

static const Ask ALERT_ASKS[] = {
    {"take", "POST", "/alerts/{id}/take", TAKE_FIELDS, show_alert, false},
    {"close", "POST", "/alerts/{id}/close", CLOSE_FIELDS, show_alert, false},
    {"open", "POST", "/clients/{id}/alerts", OPEN_FIELDS, show_alert, false},
};

static int run_alert(const Cli *cli, int argc, char **argv)
{
    return ask_run(cli, &COMMAND_ALERT, ALERT_ASKS, G_N_ELEMENTS(ALERT_ASKS), argc, argv);
}

const Command COMMAND_ALERT = {
    .name = "alert",
    .summary = "take, close or open an alert",
    .usage = "take ID --by NAME | close ID --outcome resume|step-back|refer|end --by NAME [--note "
             "TEXT] | open CLIENT --kind K "
             "--words TEXT --by NAME",
    .help = "  osier alert take 3F8 --by \"R. Okafor\"\n"
            "  osier alert close 3F8 --outcome resume --by \"R. Okafor\" --note \"rang her, bruise "
            "only\"\n"
            "  osier alert open K7QF --kind fall --words \"daughter rang: she slipped\" --by \"J. "
            "Lindqvist\"\n\n"
            "Taking says who is looking after it. Only closing, with an outcome, ends a hold "
            "(resume, step-back).\n"
            "Kinds: crisis, heart, stroke and cauda call somebody at any hour; clot, fracture, "
            "nerve, fall, "
            "pain and other\nwithin clinic hours; strong-stretch waits for the digest.",
    .run = run_alert,
};

static const Field SETTLE_FIELDS[] = {{"by", "by", FIELD_TEXT},
                                      {"done", "done", FIELD_TEXT},
                                      {"intensity", "intensity", FIELD_NUMBER},
                                      {"pain", "pain", FIELD_NUMBER},
                                      {"client", "client", FIELD_TEXT},
                                      {"session", "session", FIELD_TEXT},
                                      {"date", "date", FIELD_TEXT},
                                      {"slot", "slot", FIELD_NUMBER},
                                      {"missed", "missed", FIELD_TEXT},
                                      {NULL, NULL, FIELD_TEXT}};

static const Ask UNREAD_ASKS[] = {
    {"settle", "POST", "/unread/{id}/settle", SETTLE_FIELDS, show_plain, false},
    {NULL, "GET", "/unread", NULL, show_replies, false},
};

static int run_unread(const Cli *cli, int argc, char **argv)
{
    return ask_run(cli, &COMMAND_UNREAD, UNREAD_ASKS, G_N_ELEMENTS(UNREAD_ASKS), argc, argv);
}

const Command COMMAND_UNREAD = {
    .name = "unread",
    .summary = "list replies that a person must settle, or settle one",
    .usage = "[settle ID --by NAME [--client CLIENT] [--session S|--date D [--slot N]] [--done "
             "yes|partly|no] [--intensity N] [--pain N] [--missed sign|stop|number|other]]",
    .help =
        "  osier unread\n"
        "  osier unread settle 9C41 --by \"J. Lindqvist\" --done yes --intensity 4 --pain 0\n\n"
        "Each shows the words beside what osier thinks they say, and why it is unsure. What "
        "waits for a day becomes\n"
        "an alert. --client says who wrote it, where two share a number; --date (and --slot) or "
        "--session, which\n"
        "session it tells of, where that is not the one asked last. Without --done, --intensity "
        "and --pain the reply\n"
        "is settled and nothing of it is counted. "
        "--missed says what osier should have read and did not; the digest counts it.\n"
        "Words of a death, a hospital or an illness have stopped what goes to the client; "
        "settling them lets it go on.\n"
        "\"if so\" is the command that is likely to be meant: osier client end ID --why died, "
        "which says nothing to\nanybody; for a wrong number osier client set ID --phone "
        "NUMBER. Without a new number a wrong one gets nothing\nuntil osier client resume ID.",
    .run = run_unread,
};

static const Field SEEN_FIELDS[] = {
    {"by", "by", FIELD_TEXT}, {"missed", "missed", FIELD_TEXT}, {NULL, NULL, FIELD_TEXT}};

static const Ask GLANCE_ASKS[] = {
    {"seen", "POST", "/glance/{id}/seen", SEEN_FIELDS, show_plain, true},
    {NULL, "GET", "/glance", NULL, show_replies, false},
};

static int run_glance(const Cli *cli, int argc, char **argv)
{
    return ask_run(cli, &COMMAND_GLANCE, GLANCE_ASKS, G_N_ELEMENTS(GLANCE_ASKS), argc, argv);
}

const Command COMMAND_GLANCE = {
    .name = "glance",
    .summary = "list replies read well but with other words, or mark them seen",
    .usage = "[seen ID ... --by NAME [--missed sign|stop|number|other]]",
    .help = "  osier glance\n  osier glance seen 9C41 77AB --by \"J. Lindqvist\"\n"
            "  osier glance seen 9C41 --missed sign --by \"J. Lindqvist\"\n\n"
            "--missed says what osier should have read in the words and did not; the digest counts "
            "it. Nothing follows\n"
            "from it by itself: osier alert open calls somebody, osier report writes a session "
            "down.",
    .run = run_glance,
};

static const Ask CALLS_ASKS[] = {{NULL, "GET", "/calls", NULL, show_calls, false}};

static int run_calls(const Cli *cli, int argc, char **argv)
{
    return ask_run(cli, &COMMAND_CALLS, CALLS_ASKS, G_N_ELEMENTS(CALLS_ASKS), argc, argv);
}

const Command COMMAND_CALLS = {
    .name = "calls",
    .summary = "list the people to ring today, in order, with reasons",
    .usage = "",
    .help = "  osier calls\n\nOpen alerts first; then the sessions of clients who have only a "
            "landline.",
    .run = run_calls,
};

static const Field FILTER_FIELDS[] = {
    {"client", "client", FIELD_TEXT}, {"since", "since", FIELD_TEXT}, {NULL, NULL, FIELD_TEXT}};

static const Ask MESSAGES_ASKS[] = {
    {NULL, "GET", "/messages", FILTER_FIELDS, show_messages, false}};
static const Ask REPLIES_ASKS[] = {{NULL, "GET", "/replies", FILTER_FIELDS, show_replies, false}};

static int run_messages(const Cli *cli, int argc, char **argv)
{
    return ask_run(cli, &COMMAND_MESSAGES, MESSAGES_ASKS, G_N_ELEMENTS(MESSAGES_ASKS), argc, argv);
}

static int run_replies(const Cli *cli, int argc, char **argv)
{
    return ask_run(cli, &COMMAND_REPLIES, REPLIES_ASKS, G_N_ELEMENTS(REPLIES_ASKS), argc, argv);
}

const Command COMMAND_MESSAGES = {
    .name = "messages",
    .summary = "list messages and what became of each",
    .usage = "[--client ID] [--since T]",
    .help = "  osier messages --client K7QF --since 2026-03-02T00:00:00Z\n\n"
            "Fates: waiting, writing, accepted, delivered, refused, failed, lapsed (its time had "
            "passed), unsure.",
    .run = run_messages,
};

const Command COMMAND_REPLIES = {
    .name = "replies",
    .summary = "list replies, word for word, with their reading",
    .usage = "[--client ID] [--since T]",
    .help = "  osier replies --client K7QF",
    .run = run_replies,
};

static const Ask WHY_ASKS[] = {{NULL, "GET", "/why/{id}", NULL, show_why, false}};

static int run_why(const Cli *cli, int argc, char **argv)
{
    return ask_run(cli, &COMMAND_WHY, WHY_ASKS, G_N_ELEMENTS(WHY_ASKS), argc, argv);
}

const Command COMMAND_WHY = {
    .name = "why",
    .summary = "tell why osier did what it did, with the entries of the ledger",
    .usage = "ID",
    .help = "  osier why 3F8\n\nThe id of a client, session, message, reply or alert, or its "
            "beginning.",
    .run = run_why,
};

static const Ask STATUS_ASKS[] = {{NULL, "GET", "/status", NULL, show_status, false}};

static int run_status(const Cli *cli, int argc, char **argv)
{
    return ask_run(cli, &COMMAND_STATUS, STATUS_ASKS, G_N_ELEMENTS(STATUS_ASKS), argc, argv);
}

const Command COMMAND_STATUS = {
    .name = "status",
    .summary = "tell what somebody should look at, then the numbers",
    .usage = "",
    .help = "  osier status\n\nA line with ! is about something that is not sent, not heard or not "
            "kept, or about somebody who needs a\nclinician now. Under each stands what to do.",
    .run = run_status,
};

/* osier metrics */
static int run_metrics(const Cli *cli, int argc, char **argv)
{
    const GOptionEntry entries[] = {{NULL, 0, 0, G_OPTION_ARG_NONE, NULL, NULL, NULL}};
    g_autofree char *text = NULL;

    if (!cli_options(&COMMAND_METRICS, entries, &argc, &argv)) return EXIT_USE;
    if (argc > 1) return cli_fault(EXIT_USE, "metrics", argv[1], "is one word too many");
    if (cli->json)
        return cli_fault(EXIT_USE, "metrics", "--json",
                         "there is none: figures are OpenMetrics text alone");
    int code = remote_text(cli, "/metrics", &text);
    if (code == EXIT_OK) fputs(text, stdout);
    return code;
}

const Command COMMAND_METRICS = {
    .name = "metrics",
    .summary = "print figures for monitoring, as OpenMetrics text",
    .usage = "",
    .help = "  osier metrics >/var/lib/metrics/osier.prom\n\nThe same as GET /metrics on the "
            "clinic's socket; GET /healthz there is for a probe. No personal data.",
    .run = run_metrics,
};

/* osier clock to T */
static int run_clock(const Cli *cli, int argc, char **argv)
{
    json_t *answer;

    if (argc != 3 || g_strcmp0(argv[1], "to") != 0)
        return cli_fault(EXIT_USE, "clock", argc > 1 ? argv[1] : "",
                         "write: osier clock to 2026-03-02T08:00:00Z");
    int code = remote_call(cli, "POST", "/clock", json_pack("{s:s}", "to", argv[2]), &answer);
    if (code != EXIT_OK) return code;
    if (cli->json) {
        cli_json(answer);
        return EXIT_OK;
    }
    const char *next = json_string_value(json_object_get(answer, "next_due"));
    printf("it is %s; next due: %s\n", json_string_value(json_object_get(answer, "now")),
           next != NULL ? next : "nothing");
    json_decref(answer);
    return EXIT_OK;
}

const Command COMMAND_CLOCK = {
    .name = "clock",
    .summary = "move the clock of a stepped osierd",
    .usage = "to T",
    .help = "  osier clock to 2026-03-02T08:30:00Z\n\nOnly an osierd that was started with --clock "
            "is stepped.",
    .run = run_clock,
};

/* osier week [--of DATE] [--format text|html|json|pdf] [--out FILE] */
static int run_week(const Cli *cli, int argc, char **argv)
{
    g_autofree char *of = NULL;
    g_autofree char *format = NULL;
    g_autofree char *out = NULL;
    const GOptionEntry entries[] = {
        {"of", 0, 0, G_OPTION_ARG_STRING, &of, "", ""},
        {"format", 0, 0, G_OPTION_ARG_STRING, &format, "", ""},
        {"out", 0, 0, G_OPTION_ARG_FILENAME, &out, "", ""},
        {NULL, 0, 0, 0, NULL, NULL, NULL},
    };
    json_t *answer;

    if (!cli_options(&COMMAND_WEEK, entries, &argc, &argv)) return EXIT_USE;
    if (argc > 1)
        return cli_fault(EXIT_USE, "week", argv[1], "is one word too many; try: osier week --help");
    json_t *body = json_object();
    if (of != NULL) json_object_set_new(body, "of", json_string(of));
    if (g_strcmp0(format, "pdf") == 0) {
        if (out != NULL) return paper_write(cli, "/week.pdf", body, out);
        json_decref(body);
        return cli_fault(EXIT_USE, "--out", "", "is needed with --format pdf: --out week.pdf");
    }
    json_object_set_new(body, "format",
                        json_string(format != NULL ? format
                                    : cli->json    ? "json"
                                                   : "text"));
    int code = remote_call(cli, "GET", "/week", body, &answer);
    if (code != EXIT_OK) return code;
    const char *page = json_string_value(json_object_get(answer, "page"));
    g_autofree char *text = page != NULL ? g_strdup(page) : json_dumps(answer, JSON_COMPACT);
    json_decref(answer);
    if (out == NULL) {
        printf("%s%s", text, g_str_has_suffix(text, "\n") ? "" : "\n");
        return EXIT_OK;
    }
    return paper_keep(out, text, strlen(text));
}

const Command COMMAND_WEEK = {
    .name = "week",
    .summary = "show the clinic's week, as the digest mails it",
    .usage = "[--of DATE] [--format text|html|json|pdf] [--out FILE]",
    .help = "  osier week\n  osier week --of 2026-03-04 --format html --out week.html\n"
            "  osier week --format pdf --out week.pdf\n\n"
            "Without --of: the seven days before today. With it: the clinic's week that holds the "
            "date.",
    .run = run_week,
};
