/* SPDX-License-Identifier: Apache-2.0 */
/* osier records: what other systems hold comes in, what osier holds goes out. */
#include <string.h>

#include "daemon/cli/records.h"

static const struct {
    const char *word;
    int (*run)(const Cli *cli, int argc, char **argv);
} WORDS[] = {
    {"import", records_import}, {"imports", records_imports},   {"undo", records_undo},
    {"export", records_export}, {"drafts", records_drafts},     {"confirm", records_confirm},
    {"drop", records_drop},     {"calendar", records_calendar},
};

static int run(const Cli *cli, int argc, char **argv)
{
    for (size_t i = 0; argc > 1 && i < G_N_ELEMENTS(WORDS); i++)
        if (strcmp(argv[1], WORDS[i].word) == 0) return WORDS[i].run(cli, argc - 1, argv + 1);
    return cli_fault(
        EXIT_USE, "records", argc > 1 ? argv[1] : "",
        "must be one of import, imports, undo, drafts, confirm, drop, export, calendar; "
        "try: osier records --help");
}

const Command COMMAND_RECORDS = {
    .name = "records",
    .summary = "clients in from a spreadsheet, records out",
    .usage = "import|imports|undo|drafts|confirm|drop|export|calendar ...",
    .help =
        "  osier records import --csv clients.csv            what would happen; nothing is "
        "written\n"
        "  osier records import --csv clients.csv --save\n"
        "      [--map 'Header=field' ...] [--dates day-first|month-first] [--skip-faulty]\n"
        "      [--keep-alike] [--by NAME]\n"
        "  osier records imports                             what was imported here\n"
        "  osier records undo 7KQF2M9T [--by NAME]           takes an import back\n"
        "  osier records import --fhir bundle.json [--save]   patients of FHIR R4, plans as "
        "drafts\n"
        "  osier records drafts                              plans that wait for a clinician\n"
        "  osier records confirm K7QF --by NAME [--at ...]   after the screen; drop K7QF --by "
        "NAME\n"
        "  osier records export --csv --out DIR              every table\n"
        "  osier records export --fhir --out DIR             the clinic as FHIR R4, a file a type\n"
        "  osier records export --fhir K7QF --out FILE       one client as a FHIR R4 Bundle\n"
        "  osier records calendar K7QF --out FILE.ics        a client's sessions for a calendar\n"
        "  osier records calendar K7QF --link [--by NAME]    a link that a calendar program "
        "follows; "
        "--revoke ends it\n"
        "  osier records calendar --reviews --out FILE.ics   the clinic's review dates\n\n"
        "Fields: name (or first_name and last_name), phone, email, born, channel, language, zone, "
        "consent, consent_by,\n"
        "consent_date, usual_pain, stature_cm, leg_cm, needs. Columns are found by their headers; "
        "--map says which is\n"
        "which where a header is not known, and --map 'Header=' leaves a column out.\n"
        "Either every row is written or none; --skip-faulty leaves rows with a fault out. A row "
        "that is like somebody who\n"
        "is there (same phone, same mail, or same name and year of birth) counts as a fault "
        "unless --keep-alike is given.\n"
        "Who comes without a recorded consent is not messaged.",
    .run = run,
};
