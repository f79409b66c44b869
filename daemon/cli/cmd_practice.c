/* SPDX-License-Identifier: Apache-2.0 */
/* Commands of practice: measures, and whether a client is ready to move on. */
#include "daemon/cli/ask.h"

static const Field MEASURE_FIELDS[] = {
    {"movement", "movement", FIELD_TEXT},
    {"side", "side", FIELD_TEXT},
    {"method", "method", FIELD_TEXT},
    {"angle-deg", "angle_deg", FIELD_NUMBER},
    {"distance-cm", "distance_cm", FIELD_NUMBER},
    {"height-cm", "height_cm", FIELD_NUMBER},
    {"value", "value", FIELD_NUMBER},
    {"landmark", "landmark", FIELD_TEXT},
    {"date", "date", FIELD_TEXT},
    {"by", "by", FIELD_TEXT},
    {NULL, NULL, FIELD_TEXT},
};

static const Ask MEASURE_ASKS[] = {
    {"add", "POST", "/clients/{id}/measures", MEASURE_FIELDS, show_measure, false},
    {"list", "GET", "/clients/{id}/measures", NULL, show_measures, false},
};

static int run_measure(const Cli *cli, int argc, char **argv)
{
    return ask_run(cli, &COMMAND_MEASURE, MEASURE_ASKS, G_N_ELEMENTS(MEASURE_ASKS), argc, argv);
}

const Command COMMAND_MEASURE = {
    .name = "measure",
    .summary = "write down a measure, and see what has really changed",
    .usage = "add ID ...|list ID",
    .help =
        "  osier measure add K7QF --movement leg-raise --side left --method goniometer \\\n"
        "      --angle-deg 68 --by \"R. Okafor\" [--date 2026-03-02] [--landmark TEXT]\n"
        "  osier measure add K7QF --movement leg-raise --side left --method door --distance-cm 30 "
        "--by \"the client\"\n"
        "  osier measure add K7QF --movement leg-raise --side left --method heel --height-cm 60 "
        "--by \"the client\"\n"
        "  osier measure add K7QF --movement knee-to-wall --side left --method tape --distance-cm "
        "8 "
        "--by \"R. Okafor\"\n"
        "  osier measure add K7QF --movement own-task --method asked --value 6 --by \"R. Okafor\"\n"
        "  osier measure list K7QF\n\n"
        "Movements and methods are those of the programme files, with the error of each. Beside "
        "the one before, a\n"
        "reading is more, less, or within measuring error; left stands beside right. A distance or "
        "height becomes an\n"
        "angle by the client's leg, which is marked where it was estimated from stature. What a "
        "client measures\n"
        "supports, and never decides.",
    .run = run_measure,
};

static const Ask READY_ASKS[] = {{NULL, "GET", "/clients/{id}/ready", NULL, show_ready, false}};

static int run_ready(const Cli *cli, int argc, char **argv)
{
    return ask_run(cli, &COMMAND_READY, READY_ASKS, G_N_ELEMENTS(READY_ASKS), argc, argv);
}

const Command COMMAND_READY = {
    .name = "ready",
    .summary = "say move on, stay or step back, with every rule behind it",
    .usage = "ID",
    .help =
        "  osier ready K7QF\n\n"
        "Each line is a rule, what was found, its limit, and whether it is met. A rule that begins "
        "\"step back\" speaks\n"
        "for stepping back where it is met. Silence counts neither way. Never move on with an open "
        "alert, a hold, a\n"
        "fresh screen that is due, or after two weeks off. osier moves nobody: a clinician "
        "confirms "
        "with osier plan move.",
    .run = run_ready,
};
