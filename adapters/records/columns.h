/* SPDX-License-Identifier: Apache-2.0 */
/* Which column of a clinic's spreadsheet holds what osier keeps of a client. */
#ifndef OSIER_ADAPTERS_RECORDS_COLUMNS_H
#define OSIER_ADAPTERS_RECORDS_COLUMNS_H

#include "adapters/records/sheet.h"

typedef enum {
    COLUMN_NAME,
    COLUMN_FIRST_NAME, /* first and last stand for name */
    COLUMN_LAST_NAME,
    COLUMN_PHONE,
    COLUMN_EMAIL,
    COLUMN_BORN,
    COLUMN_ZONE,
    COLUMN_LANGUAGE,
    COLUMN_CHANNEL,
    COLUMN_CONSENT,
    COLUMN_CONSENT_BY,
    COLUMN_CONSENT_DATE,
    COLUMN_USUAL_PAIN,
    COLUMN_STATURE_CM,
    COLUMN_LEG_CM,
    COLUMN_NEEDS,
    COLUMN_WORDING,
    COLUMN_CALENDAR,
    COLUMN_FIELDS
} ColumnField;

/* "consent_by": as the export writes its header, and as --map names it. */
const char *column_field_name(ColumnField field);

/* The field of that name, or -1. */
int column_field_of(const char *name);

typedef struct {
    int at[COLUMN_FIELDS]; /* the column's place, -1: none */
    GPtrArray *left;       /* of char *: columns that are not taken, a suggestion after each */
} ColumnMap;

/* Finds the columns by their headers in English, Spanish, French and German, however they are cased and spaced; maps
 * ("Header=field"; an empty field leaves a column out; NULL-ended, may be NULL) come before that. Faults: a map that fits
 * nothing, two columns for one field, no name, neither phone nor email. */
void column_map_make(ColumnMap *map, const Sheet *sheet, const char *const *maps,
                     GPtrArray *faults);
void column_map_clear(ColumnMap *map);

/* The header of a field's column, or the field's own name where it has none. */
const char *column_header(const ColumnMap *map, const Sheet *sheet, ColumnField field);

/* The text of a field in a row, "" where it has no column. */
const char *column_cell(const ColumnMap *map, const SheetRow *row, ColumnField field);

#endif
