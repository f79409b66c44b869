/* SPDX-License-Identifier: Apache-2.0 */
/* Looking into JSON documents: each ends the test, and prints the document, where it does not find
 * what it wants. */
#ifndef OSIER_TESTS_SUPPORT_JSON_LOOK_H
#define OSIER_TESTS_SUPPORT_JSON_LOOK_H

#include <glib.h>
#include <jansson.h>
#include <stdbool.h>

/* The field is that text. */
void look_is(const json_t *document, const char *field, const char *value);

/* Every field of the expected object (JSON text) is in the document with an equal value. */
void look_json(const json_t *document, const char *expected);

void look_near(const json_t *document, const char *field, double value, double within);

/* The field's text (g_free). */
char *look_copy(const json_t *document, const char *field);

/* The only object of a list whose field is that text; NULL, printed, where there is none or there
 * are several. */
json_t *look_only(json_t *list, const char *field, const char *value);

/* How many objects of the list have that text in the field. */
int look_count(const json_t *list, const char *field, const char *value);

#endif
