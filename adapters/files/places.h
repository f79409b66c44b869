/* SPDX-License-Identifier: Apache-2.0 */
/* Where the nodes of a file stand. They are noted in the order of the file; their JSON Pointers are put together only once one
 * is asked for, which of most files none is. */
#ifndef OSIER_ADAPTERS_FILES_PLACES_H
#define OSIER_ADAPTERS_FILES_PLACES_H

#include "core/clinic/fault.h"

/* Where a node stands, counted from 1; and the key of which it is the value (the node's own place where it has none). */
typedef struct {
    int line, column;
    int key_line, key_column;
    const char *written; /* a number, true, false and null as in the file, else NULL */
} Place;

/* How a node hangs below another. */
typedef struct {
    int above;       /* the other's number, -1 for the root */
    const char *key; /* in a mapping, else NULL */
    size_t item;     /* in a list: how many come before it */
    bool hidden;     /* the value of a faulty key: its pointer is another's */
} PlaceBelow;

typedef struct Places Places;

Places *places_new(void);
void places_free(Places *places);

/* Notes a place, copied with its texts; the node's number. One noted later takes the pointer from one noted before. */
int places_add(Places *places, const PlaceBelow *below, const Place *place);

/* The place of a pointer, or NULL; lent until the next one is noted. */
const Place *places_get(const Places *places, const char *pointer);
/* The same of a key below a node. */
const Place *places_of_key(const Places *places, int above, const char *key);

/* Adds a line PATH:LINE:COL: VALUE: WHY to messages for each fault, in the order of their places. A fault that stands
 * nowhere gets the place of the nearest node above. */
void places_faults(const Places *places, const char *path, const Faults *faults,
                   GPtrArray *messages);

#endif
