/* SPDX-License-Identifier: Apache-2.0 */
/* Which ids are one client: two laptops that made the same client while apart are told so afterwards (client.same_as). Of all
 * the ids of one client the least is the one that everything is kept under; in whatever order people said it, it is the same. */
#ifndef OSIER_CORE_LEDGER_SAME_H
#define OSIER_CORE_LEDGER_SAME_H

#include <glib.h>
#include <stdbool.h>

typedef struct Same Same;

Same *same_new(void);
void same_free(Same *same);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(Same, same_free)

/* Two ids are one client, and with them whoever either is one with. "clinic" is nobody's id: then nothing changes. */
void same_add(Same *same, const char *one, const char *other);

/* The id that an id is kept under: itself where nothing was said of it. Lent by same or the caller's own. */
const char *same_one(const Same *same, const char *id);

/* All ids of one client in their order, this one among them (GPtrArray of char *, each lent by same; the array is the
 * caller's). Empty where nothing was said of it. */
GPtrArray *same_all(const Same *same, const char *id);

/* Was anything said of it? */
bool same_knows(const Same *same, const char *id);

/* All ids of which something was said, those of one client one after the other (lent and freed as those of same_all). */
GPtrArray *same_known(const Same *same);

#endif
