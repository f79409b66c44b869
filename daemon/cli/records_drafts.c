/* SPDX-License-Identifier: Apache-2.0 */
/* osier records drafts, confirm, drop: plans that came in and wait for a clinician. */
#include "daemon/cli/ask.h"
#include "daemon/cli/records.h"

static const Field CONFIRM_FIELDS[] = {
    {"by", "by", FIELD_TEXT},
    {"at", "at", FIELD_TEXT},
    {"stage", "stage", FIELD_TEXT},
    {"start", "start", FIELD_TEXT},
    {"programme", "programme", FIELD_TEXT},
    {"rule", "rule", FIELD_TEXT},
    {"clinician", "clinician", FIELD_TEXT},
    {NULL, NULL, FIELD_TEXT},
};

static const Field DROP_FIELDS[] = {
    {"by", "by", FIELD_TEXT},
    {NULL, NULL, FIELD_TEXT},
};

int records_drafts(const Cli *cli, int argc, char **argv)
{
    static const Ask ASKS[] = {{NULL, "GET", "/drafts", NULL, show_plain, false}};

    return ask_run(cli, &COMMAND_RECORDS, ASKS, G_N_ELEMENTS(ASKS), argc, argv);
}

int records_confirm(const Cli *cli, int argc, char **argv)
{
    static const Ask ASKS[] = {
        {NULL, "POST", "/clients/{id}/draft/confirm", CONFIRM_FIELDS, show_plan, false}};

    return ask_run(cli, &COMMAND_RECORDS, ASKS, G_N_ELEMENTS(ASKS), argc, argv);
}

int records_drop(const Cli *cli, int argc, char **argv)
{
    static const Ask ASKS[] = {
        {NULL, "POST", "/clients/{id}/draft/drop", DROP_FIELDS, show_plain, false}};

    return ask_run(cli, &COMMAND_RECORDS, ASKS, G_N_ELEMENTS(ASKS), argc, argv);
}
