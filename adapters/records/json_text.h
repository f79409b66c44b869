/* SPDX-License-Identifier: Apache-2.0 */
/* JSON written out, for exports of very many small documents. jansson's own writer looks for loops at every level, which takes
 * most of an export's time; what an export builds has none. */
#ifndef OSIER_ADAPTERS_RECORDS_JSON_TEXT_H
#define OSIER_ADAPTERS_RECORDS_JSON_TEXT_H

#include <glib.h>
#include <jansson.h>

/* Appends the document to text as json_dumps writes it with JSON_COMPACT, JSON_ENCODE_ANY and JSON_REAL_PRECISION(15): members in
 * the order in which they were set. The document must not hold itself. */
void json_text_append(GString *text, const json_t *document);

#endif
