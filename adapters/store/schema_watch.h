/* SPDX-License-Identifier: Apache-2.0 */
/* Looks at a schema without holding it: does a process work on it, and how many commits has it kept? For whoever stands by to
 * take its work over. */
#ifndef OSIER_ADAPTERS_STORE_SCHEMA_WATCH_H
#define OSIER_ADAPTERS_STORE_SCHEMA_WATCH_H

#include "adapters/store/place.h"

typedef struct SchemaWatch SchemaWatch;

typedef enum {
    SCHEMA_HELD,  /* a process has it */
    SCHEMA_FREE,  /* nobody has */
    SCHEMA_UNSEEN /* the server cannot be asked, or is not one to go on with */
} SchemaLook;

/* Connects to nothing yet. place is copied. */
SchemaWatch *schema_watch_new(const PostgresPlace *place);
void schema_watch_free(SchemaWatch *watch);

/* Looks, and writes the number of commits in the place's fence file, so that a server that lacks some of them later is not
 * gone on with. Waits for the server, 10 s at most; any thread, one at a time. Where SCHEMA_UNSEEN, *why is one line
 * (g_free), else NULL. */
SchemaLook schema_watch_look(SchemaWatch *watch, char **why);

#endif
