/* SPDX-License-Identifier: Apache-2.0 */
/* A row of a clinic's spreadsheet as the fields of a client. */
#ifndef OSIER_ADAPTERS_RECORDS_ROLL_H
#define OSIER_ADAPTERS_RECORDS_ROLL_H

#include <jansson.h>

#include "adapters/records/columns.h"

/* The order of a date's parts where the year does not come first. */
typedef enum { DATES_DAY_FIRST, DATES_MONTH_FIRST } DateOrder;

/* Reads "2026-03-02", "02.03.2026", "3/2/2026" (years of four digits) as "2026-03-02" (g_free), or gives NULL and *why
 * (static). A time of day after it is left out. */
char *roll_date(const char *text, DateOrder order, const char **why);

/* The fields of POST /clients that the row holds (new reference), all as texts. Numbers and addresses are judged by whoever
 * takes the fields; here are judged: birth dates, channel and language by their everyday names, and consent, which needs how
 * it was given, who took it and when. Faults are added; consent is left out where there is none. */
json_t *roll_fields(const ColumnMap *map, const Sheet *sheet, const SheetRow *row, DateOrder order,
                    GPtrArray *faults);

/* One line where a column holds throughout what belongs elsewhere: mail addresses in the phone column, numbers among the
 * names; NULL (g_free) where nothing looks swapped. */
char *roll_swapped(const ColumnMap *map, const Sheet *sheet);

#endif
