/* SPDX-License-Identifier: Apache-2.0 */
/* The summary for the file: what is known of one client, on two readable pages, for the record, the
 * doctor, or a person who asks for their data. */
#ifndef OSIER_CORE_PAPER_RECORD_H
#define OSIER_CORE_PAPER_RECORD_H

#include "core/paper/sheet.h"

#define RECORD_PT 10.5

/* The sheet of a summary's document (docs/api.md, GET /clients/ID/summary; what it lacks is left out).
 * course is taken over, or NULL. The zone is the client's; without its "words" nothing is told word for
 * word, and of long lists the latest. */
Paper *record_sheet(const Pack *pack, const json_t *summary, GTimeZone *zone, const char *clinic,
                    Day today, Picture *course, bool letter);

#endif
