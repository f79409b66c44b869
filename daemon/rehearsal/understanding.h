/* SPDX-License-Identifier: Apache-2.0 */
/* What a person understands of a text that osier wrote: which text of which language pack it is,
 * and what stood in it. */
#ifndef OSIER_DAEMON_REHEARSAL_UNDERSTANDING_H
#define OSIER_DAEMON_REHEARSAL_UNDERSTANDING_H

#include <glib.h>

/* The key of the text ("reminder", "alert-now"), static, or NULL where no pack (of Pack) has one
 * that could have become it; its placeholders' values are added to values (likeness_new). Where
 * several fit, the one with the most words of its own. The letter before a text to a phone that several share is the value "letter". */
const char *understand(const GPtrArray *packs, const char *text, GHashTable *values);

#endif
