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

/* Tells what would happen, or what has happened. */
void import_tell(const Import *import, bool saved);

/* A bar on a terminal; nothing elsewhere. */
void import_progress(const Import *import, const char *doing, guint done);

#endif
