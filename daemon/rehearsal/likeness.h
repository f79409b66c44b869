/* SPDX-License-Identifier: Apache-2.0 */
/* A template read backwards: what stood for its placeholders in a text that was made from it. So
 * the stand-ins find number and text in whatever mapping a clinic has, and the people of a
 * rehearsal understand what osier wrote to them. */
#ifndef OSIER_DAEMON_REHEARSAL_LIKENESS_H
#define OSIER_DAEMON_REHEARSAL_LIKENESS_H

#include <glib.h>
#include <jansson.h>
#include <stdbool.h>

/* Names to values, both owned by the table. */
GHashTable *likeness_new(void);

/* Was text made from template? Then the values of its placeholders are added to found, the first
 * of each name kept. A placeholder stands for as little as the rest allows; {secret:NAME} stands
 * for anything and is not kept. Nothing is added where the text is another. */
bool likeness_match(const char *template, const char *text, GHashTable *found);

/* The same for every text in a JSON value, side by side with the value it was filled from: objects
 * by name, arrays by place. What has no partner is passed over; true where anything matched. */
bool likeness_match_json(const json_t *template, const json_t *value, GHashTable *found);

#endif
