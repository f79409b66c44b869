/* SPDX-License-Identifier: Apache-2.0 */
/* Writes CSV (RFC 4180): UTF-8, comma, CRLF, cells quoted where they must be. A text that a spreadsheet would read as a
 * formula is written with an apostrophe before it, which sheet.h takes off again. */
#ifndef OSIER_ADAPTERS_RECORDS_TABLE_FILE_H
#define OSIER_ADAPTERS_RECORDS_TABLE_FILE_H

#include <glib.h>
#include <stdbool.h>
#include <stdint.h>

typedef struct TableFile TableFile;

/* Makes a file, mode 0600; one that is there already is a problem. NULL with *why (g_free). */
TableFile *table_file_new(const char *path, char **why);

/* The cells of a row, one after the other, then its end. NULL is an empty cell. */
void table_file_text(TableFile *file, const char *text);
void table_file_integer(TableFile *file, int64_t number);
void table_file_real(TableFile *file, double number);
void table_file_end_row(TableFile *file);

/* Syncs and frees; NULL, or why it is not whole (g_free). */
char *table_file_close(TableFile *file);

/* Where the text begins once the mark before a would-be formula is taken off. */
const char *table_file_unguard(const char *text);

#endif
