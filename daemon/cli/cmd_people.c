/* SPDX-License-Identifier: Apache-2.0 */
/* Commands about one client: who it is, the screen, the plan, sessions, reports, adherence. */
#include "daemon/cli/ask.h"

static const Field CLIENT_FIELDS[] = {
    {"name", "name", FIELD_TEXT},         {"zone", "zone", FIELD_TEXT},
    {"language", "language", FIELD_TEXT}, {"channel", "channel", FIELD_TEXT},
    {"phone", "phone", FIELD_TEXT},       {"email", "email", FIELD_TEXT},
    {"consent", "consent", FIELD_TEXT},   {"stature-cm", "stature_cm", FIELD_NUMBER},
    {"leg-cm", "leg_cm", FIELD_NUMBER},   {"usual-pain", "usual_pain", FIELD_NUMBER},
    {"needs", "needs", FIELD_TEXT},       {"born", "born", FIELD_NUMBER},
    {"returned", "returned", FIELD_TEXT}, {"calendar", "calendar", FIELD_TEXT},
    {"wording", "wording", FIELD_TEXT},   {NULL, NULL, FIELD_TEXT},
};

static const Field PAUSE_FIELDS[] = {
    {"until", "until", FIELD_TEXT},
    {"why", "why", FIELD_TEXT},
    {"by", "by", FIELD_TEXT},
    {NULL, NULL, FIELD_TEXT},
};

static const Field BY_FIELDS[] = {
    {"why", "why", FIELD_TEXT},
    {"by", "by", FIELD_TEXT},
    {NULL, NULL, FIELD_TEXT},
};

static const Field RESUME_FIELDS[] = {
    {"asked", "asked", FIELD_TEXT},
    {"by", "by", FIELD_TEXT},
    {NULL, NULL, FIELD_TEXT},
};

static const Field SAME_FIELDS[] = {
    {"as", "as", FIELD_TEXT},
    {"by", "by", FIELD_TEXT},
    {NULL, NULL, FIELD_TEXT},
};

static const Ask CLIENT_ASKS[] = {
    {"add", "POST", "/clients", CLIENT_FIELDS, show_plain, false},
    {"list", "GET", "/clients", NULL, show_clients, false},
    {"show", "GET", "/clients/{id}", NULL, show_client, false},
    {"set", "POST", "/clients/{id}", CLIENT_FIELDS, show_plain, false},
    {"pause", "POST", "/clients/{id}/pause", PAUSE_FIELDS, show_plain, false},
    {"resume", "POST", "/clients/{id}/resume", RESUME_FIELDS, show_plain, false},
    {"end", "POST", "/clients/{id}/end", BY_FIELDS, show_plain, false},
    {"same", "POST", "/clients/{id}/same-as", SAME_FIELDS, show_plain, false},
    {"summary", "GET", "/clients/{id}/summary", NULL, show_plain, false},
    {"erase", "POST", "/clients/{id}/erase", BY_FIELDS, show_plain, false},
};

static int run_client(const Cli *cli, int argc, char **argv)
{
    return ask_run(cli, &COMMAND_CLIENT, CLIENT_ASKS, G_N_ELEMENTS(CLIENT_ASKS), argc, argv);
}

const Command COMMAND_CLIENT = {
    .name = "client",
    .summary = "add, list, show, set, pause, resume, end, join, erase a client",
    .usage = "add|list|show ID|set ID|pause ID|resume ID|end ID|same ID|summary ID|erase ID ...",
    .help =
        "  osier client add --name \"Ada N.\" --zone Europe/London --language en \\\n"
        "      --channel sms --phone +442079460001 \\\n"
        "      --consent \"sms: signed form, R. Okafor, 2026-03-01\"\n"
        "      [--email A] [--stature-cm N] [--leg-cm N] [--usual-pain 0-10]\n"
        "      [--needs TEXT] [--born YEAR]\n"
        "      [--wording plain]  mail may say what the movements are, with their cautions\n"
        "      [--calendar yes]   the sessions as a calendar file with the first mail\n"
        "  osier client list\n"
        "  osier client show K7QF\n"
        "  osier client set K7QF --phone +442079460002\n"
        "  osier client pause K7QF --until 2026-03-14 --why "
        "away|illness|hospital|fracture|operation|other\n"
        "  osier client resume K7QF [--asked \"rang, 2026-03-02\" --by \"J. Lindqvist\"]\n"
        "  osier client end K7QF --why finished|asked|moved|died\n"
        "  osier client same K7QF --as M2WT --by \"R. Okafor\"\n"
        "  osier client summary K7QF\n"
        "  osier client erase K7QF --by \"R. Okafor\" --why \"asked in writing, 2026-03-02\"\n\n"
        "show tells the letter by which a client is known on a phone that others share: texts and "
        "answers begin with it.\n"
        "An id may be cut to any beginning that is one client's. Nothing is sent without recorded "
        "consent:\n"
        "how it was given, who took it and when.\n"
        "After hospital, fracture or operation a pause does not run out: a clinician screens "
        "again, "
        "then resumes.\n"
        "resume --asked: a client who had ended the texts asked somebody for them again, how and "
        "when; START does it\n"
        "by text.\n"
        "same tells that two clients are one, entered twice while two replicas were apart: "
        "everything of "
        "both is kept\n"
        "together, either id names the client, a stop or hold of either stops both. It cannot be "
        "taken "
        "back.\n"
        "erase takes every word about a client out of every replica, for good: print the summary "
        "for "
        "the clinic's own file\n"
        "first. Only a clinician of the duty list erases, and not over an open alert or a hold. "
        "The "
        "reason stays: it names nobody.",
    .run = run_client,
};

static const Field SCREEN_FIELDS[] = {
    {"by", "by", FIELD_TEXT},       {"floor", "floor", FIELD_TEXT},
    {"clear", "clear", FIELD_FLAG}, {"finding", "findings", FIELD_LIST},
    {NULL, NULL, FIELD_TEXT},
};

static const Ask SCREEN_ASKS[] = {
    {NULL, "POST", "/clients/{id}/screen", SCREEN_FIELDS, show_plain, false}};

static int run_screen(const Cli *cli, int argc, char **argv)
{
    return ask_run(cli, &COMMAND_SCREEN, SCREEN_ASKS, G_N_ELEMENTS(SCREEN_ASKS), argc, argv);
}

const Command COMMAND_SCREEN = {
    .name = "screen",
    .summary = "record a clinician's safety check, before any plan",
    .usage = "ID --by NAME --floor yes|no (--clear | --finding TEXT ...)",
    .help =
        "  osier screen K7QF --by \"R. Okafor\" --floor yes --clear\n"
        "  osier screen K7QF --by \"R. Okafor\" --floor no --finding \"hip replacement, left, "
        "2019\"\n\n"
        "The clinician asks for: a recent fracture or operation; limits after a joint "
        "replacement; a history of\n"
        "clots, or blood thinners; leg pain or sciatica; dizziness; falls in the last year; "
        "memory; living alone;\n"
        "and whether the client gets down to the floor and up again alone (--floor).\n"
        "A fresh screen that no longer suits a running plan puts it on hold: set the plan anew, or "
        "close the alert.",
    .run = run_screen,
};

static const Field PLAN_FIELDS[] = {
    {"programme", "programme", FIELD_TEXT},
    {"at", "at", FIELD_TEXT},
    {"rule", "rule", FIELD_TEXT},
    {"start", "start", FIELD_TEXT},
    {"stage", "stage", FIELD_TEXT},
    {"angle-deg", "angle_deg", FIELD_NUMBER},
    {"felt", "felt", FIELD_TEXT},
    {"side", "side", FIELD_TEXT},
    {"clinician", "clinician", FIELD_TEXT},
    {"by", "by", FIELD_TEXT},
    {"review", "review", FIELD_TEXT},
    {"sets", "sets", FIELD_NUMBER},
    {"repetitions", "repetitions", FIELD_TEXT},
    {"hold-s", "hold_s", FIELD_TEXT},
    {"set-up", "set_up", FIELD_TEXT},
    {"goal-deg", "goal_deg", FIELD_NUMBER},
    {"goal-left-deg", "goal_left_deg", FIELD_NUMBER},
    {"goal-right-deg", "goal_right_deg", FIELD_NUMBER},
    {NULL, NULL, FIELD_TEXT},
};

static const Field MOVE_FIELDS[] = {
    {"stage", "stage", FIELD_TEXT},
    {"by", "by", FIELD_TEXT},
    {NULL, NULL, FIELD_TEXT},
};

static const Ask PLAN_ASKS[] = {
    {"set", "POST", "/clients/{id}/plan", PLAN_FIELDS, show_plan, false},
    {"show", "GET", "/clients/{id}/plan", NULL, show_plan, false},
    {"move", "POST", "/clients/{id}/plan/move", MOVE_FIELDS, show_plan, false},
};

static int run_plan(const Cli *cli, int argc, char **argv)
{
    return ask_run(cli, &COMMAND_PLAN, PLAN_ASKS, G_N_ELEMENTS(PLAN_ASKS), argc, argv);
}

const Command COMMAND_PLAN = {
    .name = "plan",
    .summary = "set, show or move a client's plan",
    .usage = "set ID|show ID|move ID ...",
    .help =
        "  osier plan set K7QF --programme calf-and-hamstring --at 08:30,18:30 \\\n"
        "      --angle-deg 62 --felt thigh --clinician \"R. Okafor\"\n"
        "      [--rule \"FREQ=DAILY;INTERVAL=2\"] [--start 2026-03-02]\n"
        "      [--stage KEY] [--side left|right|both] [--review DATE] [--by NAME]\n"
        "      [--sets N] [--repetitions 8-10] [--hold-s 1-2] [--set-up KEY]\n"
        "      [--goal-deg 80 | --goal-left-deg N --goal-right-deg N]\n"
        "  osier plan show K7QF\n"
        "  osier plan move K7QF --stage upper-hamstring --by \"R. Okafor\"\n\n"
        "--at gives the client's own local times, outside the quiet hours. Without --stage the "
        "first stage is\n"
        "worked out from the angle and from where it is felt, with reasons; what is not said is "
        "taken "
        "from the latest\n"
        "letter of the weekly question and the latest leg raise that a clinician took. Dose, "
        "set-up and goal "
        "are "
        "the programme's\n"
        "unless set here; plan show marks what is set for this client, and setting a plan again "
        "without them goes back\n"
        "to the programme's. Only a clinician moves a client: moving on is refused on a hold, "
        "over an open alert\n"
        "and while a fresh screen is due, by setting the plan anew as well; what else speaks "
        "against it "
        "is told.\n"
        "Without --rule the plan asks daily, and on the stage's own days where those are fewer "
        "(upkeep).",
    .run = run_plan,
};

static const Field SESSIONS_FIELDS[] = {
    {"from", "from", FIELD_TEXT},
    {"days", "days", FIELD_NUMBER},
    {NULL, NULL, FIELD_TEXT},
};

static const Ask SESSIONS_ASKS[] = {
    {NULL, "GET", "/clients/{id}/sessions", SESSIONS_FIELDS, show_sessions, false}};

static int run_sessions(const Cli *cli, int argc, char **argv)
{
    return ask_run(cli, &COMMAND_SESSIONS, SESSIONS_ASKS, G_N_ELEMENTS(SESSIONS_ASKS), argc, argv);
}

const Command COMMAND_SESSIONS = {
    .name = "sessions",
    .summary = "list a client's sessions, past and to come",
    .usage = "ID [--from DATE] [--days N]",
    .help = "  osier sessions K7QF --from 2026-03-02 --days 14\n\n"
            "States: planned, asked; then done, partly, not (the client said so), silent (asked, "
            "no answer),\n"
            "unasked (osier could not ask, or cannot know that it did), excused (paused, on hold, "
            "ended).",
    .run = run_sessions,
};

static const Field REPORT_FIELDS[] = {
    {"session", "session", FIELD_TEXT},
    {"date", "date", FIELD_TEXT},
    {"slot", "slot", FIELD_NUMBER},
    {"done", "done", FIELD_TEXT},
    {"intensity", "intensity", FIELD_NUMBER},
    {"pain", "pain", FIELD_NUMBER},
    {"words", "words", FIELD_TEXT},
    {"by", "by", FIELD_TEXT},
    {NULL, NULL, FIELD_TEXT},
};

static const Ask REPORT_ASKS[] = {
    {NULL, "POST", "/clients/{id}/reports", REPORT_FIELDS, show_report, false}};

static int run_report(const Cli *cli, int argc, char **argv)
{
    return ask_run(cli, &COMMAND_REPORT, REPORT_ASKS, G_N_ELEMENTS(REPORT_ASKS), argc, argv);
}

const Command COMMAND_REPORT = {
    .name = "report",
    .summary = "write down what a client said of a session",
    .usage = "ID --session S|--date D [--slot N] (--done yes|partly|no [--intensity N] [--pain N] "
             "| --words TEXT) --by NAME",
    .help = "  osier report K7QF --date 2026-03-02 --slot 1 --done yes --intensity 4 --pain 0 --by "
            "\"J. Lindqvist\"\n"
            "  osier report K7QF --date 2026-03-02 --words \"she says she fell\" --by \"J. "
            "Lindqvist\"\n\n"
            "--words are read as a reply would be; a warning sign among them opens an alert.",
    .run = run_report,
};

static const Field SPAN_FIELDS[] = {
    {"from", "from", FIELD_TEXT},
    {"to", "to", FIELD_TEXT},
    {NULL, NULL, FIELD_TEXT},
};

static const Ask ADHERENCE_ASKS[] = {
    {NULL, "GET", "/clients/{id}/adherence", SPAN_FIELDS, show_adherence, false}};

static int run_adherence(const Cli *cli, int argc, char **argv)
{
    return ask_run(cli, &COMMAND_ADHERENCE, ADHERENCE_ASKS, G_N_ELEMENTS(ADHERENCE_ASKS), argc,
                   argv);
}

const Command COMMAND_ADHERENCE = {
    .name = "adherence",
    .summary = "count a client's past sessions by their outcome",
    .usage = "ID [--from DATE] [--to DATE]",
    .help = "  osier adherence K7QF --from 2026-03-02 --to 2026-03-15\n\n"
            "Silence is not refusal, and what was never asked is nobody's fault: the rate is "
            "done/due, where due leaves\n"
            "out unasked and excused sessions; the bounds tell what it would be had all the silent "
            "ones been missed, or\n"
            "all been done.",
    .run = run_adherence,
};
