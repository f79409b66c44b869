/* SPDX-License-Identifier: Apache-2.0 */
/* An import of clients out of a spreadsheet, as its parts see it. */
#ifndef OSIER_DAEMON_CLI_RECORDS_IMPORT_H
#define OSIER_DAEMON_CLI_RECORDS_IMPORT_H

#include "adapters/records/roll.h"
#include "daemon/cli/cli.h"

typedef struct {
    const Cli *cli;
    char *file;
    char **maps;
    char *dates;
    char *by;
    gboolean save;
    gboolean skip_faulty;
    gboolean keep_alike;

    Sheet *sheet;
    ColumnMap map;
    DateOrder order;
    GPtrArray *faults; /* of SheetFault */
    GPtrArray *alike;  /* of SheetFault: rows that are like somebody else */
    guint8 *bad;       /* one for each row: 1 has a fault, 2 is like somebody */
    guint by_channel[3];
    guint consented;
    guint good;     /* rows that would become clients */
    guint writable; /* those that would if told to skip the rest */
    char *swapped;
    char id[9];
} Import;

enum { ROW_FAULTY = 1, ROW_ALIKE = 2 };

/* Judges every row, here and by the daemon, and finds who is twice. EXIT_OK, or the code after saying why not. */
int import_judge(Import *import);

/* The object that the daemon is given for a row (new reference). */
json_t *import_row(const Import *import, guint row, GPtrArray *faults);

/* Is the file read, with its header, so that rows can be told from one another? Is nothing in the way of writing? */
bool import_has_rows(const Import *import);
bool import_is_clear(const Import *import);

/* Tells what would happen, or what has happened. */
void import_tell(const Import *import, bool saved);

/* Places as lines under a title, and as JSON (new reference). */
void import_tell_places(const GPtrArray *faults, const char *title);
json_t *import_places(const GPtrArray *faults);

/* Eight of the letters that ids are made of. */
void import_draw_id(char id[9]);

/* The other way in: osier records import --fhir. save, skip_faulty, keep_alike and by as given. */
int import_fhir(const Import *import, const char *file);

/* A bar on a terminal; nothing elsewhere. */
void import_progress(const Import *import, const char *doing, guint done);

#endif
