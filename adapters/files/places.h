/* SPDX-License-Identifier: Apache-2.0 */
/* Where the nodes of a file stand, by JSON Pointer. */
#ifndef OSIER_ADAPTERS_FILES_PLACES_H
#define OSIER_ADAPTERS_FILES_PLACES_H

#include "core/clinic/fault.h"

/* Where a node stands, counted from 1; and the key of which it is the value (the node's own place where it has none). */
typedef struct {
    int line, column;
    int key_line, key_column;
    char *written; /* plain scalars as in the file, else NULL */
} Place;

typedef struct Places Places;

Places *places_new(void);
void places_free(Places *places);

/* Notes a place, of which written is copied; a former one of the pointer is replaced. */
void places_set(Places *places, const char *pointer, const Place *place);

/* The place of a pointer, or NULL; lent until the pointer is set anew. */
const Place *places_get(const Places *places, const char *pointer);

/* Adds a line PATH:LINE:COL: VALUE: WHY to messages for each fault, in the order of their places. A fault that stands
 * nowhere gets the place of the nearest node above. */
void places_faults(const Places *places, const char *path, const Faults *faults,
                   GPtrArray *messages);

#endif
