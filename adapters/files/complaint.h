/* SPDX-License-Identifier: Apache-2.0 */
/* The one form in which something wrong with a file is told: FILE:LINE:COL: VALUE: WHY. What concerns a file as a whole
 * stands at 1:1. */
#ifndef OSIER_ADAPTERS_FILES_COMPLAINT_H
#define OSIER_ADAPTERS_FILES_COMPLAINT_H

#include <glib.h>
#include <stdbool.h>

typedef struct {
    char *file;
    int line, column; /* from 1 */
    char *value;
    char *why;
} Complaint;

/* Adds a line to messages (of char *). value may be NULL; it is cut and made printable. */
void complaint_add(GPtrArray *messages, const char *file, int line, int column, const char *value,
                   const char *why, ...) G_GNUC_PRINTF(6, 7);

/* Takes a line apart again; cleared with complaint_clear. False where it has another form. */
bool complaint_split(const char *line, Complaint *complaint);
void complaint_clear(Complaint *complaint);

#endif
