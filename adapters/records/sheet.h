/* SPDX-License-Identifier: Apache-2.0 */
/* A spreadsheet saved as CSV (RFC 4180), read whole: any of the encodings and separators that spreadsheets write. */
#ifndef OSIER_ADAPTERS_RECORDS_SHEET_H
#define OSIER_ADAPTERS_RECORDS_SHEET_H

#include <glib.h>
#include <stdbool.h>

#define SHEET_BYTES_MAX (100 * 1024 * 1024)
#define SHEET_ROWS_MAX 200000
#define SHEET_COLUMNS_MAX 200
#define SHEET_CELL_MAX 4000

/* One thing that is wrong, told with its place. */
typedef struct {
    long row;     /* as the spreadsheet counts, the header is 1; 0: the whole file */
    char *column; /* its header, or "" */
    char *value;
    char *why;
} SheetFault;

/* Faults are kept in a GPtrArray that frees them. why is a format. */
GPtrArray *sheet_faults_new(void);
void sheet_fault(GPtrArray *faults, long row, const char *column, const char *value,
                 const char *why, ...) G_GNUC_PRINTF(5, 6);

typedef struct {
    long number;  /* of the row in the file, the header is 1 */
    char **cells; /* as many as the header has */
} SheetRow;

typedef struct {
    const char *encoding; /* "UTF-8", "UTF-16", "Windows-1252", "Latin-1" */
    char separator;       /* comma, semicolon, tab or bar */
    char **header;        /* trimmed */
    int columns;
    GArray *rows; /* of SheetRow; rows without any text are left out */
} Sheet;

/* Reads a file. Cells are trimmed, in Unicode's composed form (NFC), and freed of the mark that keeps a spreadsheet from
 * reading them as a formula (table_file.h). Everything that is wrong goes to faults: the file cannot be read or is no plain
 * file, is past the bounds above, has no header, is damaged; rows that are longer or shorter than the header or hold control
 * characters, which are then not among the rows. NULL where there is nothing to go on with. sheet_free frees. */
Sheet *sheet_read(const char *path, GPtrArray *faults);

/* The same from bytes in memory. */
Sheet *sheet_read_bytes(const char *bytes, gsize length, GPtrArray *faults);
void sheet_free(Sheet *sheet);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(Sheet, sheet_free)

#endif
