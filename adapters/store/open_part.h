/* SPDX-License-Identifier: Apache-2.0 */
/* What opening a file (open.c) and opening a schema (open_schema.c) have in common. */
#ifndef OSIER_ADAPTERS_STORE_OPEN_PART_H
#define OSIER_ADAPTERS_STORE_OPEN_PART_H

#include "adapters/store/open.h"

/* Gives result, with *why (g_free) as "FILE OR SCHEMA: REASON". */
OpenResult open_refuse(OpenResult result, const OpenRequest *request, char **why,
                       const char *reason);
/* It is a store, and cannot be read. */
OpenResult open_refuse_damaged(OpenRequest *request, char **why, const char *how);

/* Of a connection to a store that is there: brings it to this version and loads it, where the request may have it. */
OpenResult open_loaded(OpenRequest *request, Tx *tx, char **why);

/* Of a connection to where nothing is: makes a store, where the request says so; else lacking is why not. */
OpenResult open_born(OpenRequest *request, Tx *tx, const char *lacking, char **why);

#endif
