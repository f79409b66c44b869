/* SPDX-License-Identifier: Apache-2.0 */
/* JSON as the ledger writes it: members in the order of their names, no spaces, all but what must be escaped as it is. Each
 * event's body goes through here, so it is written for speed; the bytes are those of jansson's JSON_SORT_KEYS with
 * JSON_COMPACT. */
#ifndef OSIER_CORE_LEDGER_BODY_H
#define OSIER_CORE_LEDGER_BODY_H

#include <glib.h>
#include <jansson.h>

/* The text of any value (g_free). */
char *body_text(const json_t *value);

/* The tree of a text in any form of JSON: an object or a list without a member twice, NULL where it is none, or NULL (new
 * reference). What body_text wrote is read quickest. */
json_t *body_read(const char *text);

/* Appends the text of any value with its members in the order in which they were set, and reals to 15 digits: for what goes to
 * people and other programs. */
void body_append_as_set(GString *text, const json_t *value);

#endif
