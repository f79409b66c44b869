/* SPDX-License-Identifier: Apache-2.0 */
/* What a replica holds: for each replica the last of its events. Two of them tell what each side lacks. */
#ifndef OSIER_CORE_LEDGER_VECTOR_H
#define OSIER_CORE_LEDGER_VECTOR_H

#include <glib.h>

#include "core/ledger/event.h"

typedef struct {
    char replica[17];
    int64_t seq;
    uint8_t digest[DIGEST_BYTES]; /* of that event */
} VectorEntry;

/* An array of VectorEntry. */
GArray *vector_new(void);
void vector_add(GArray *vector, const char *replica, int64_t seq, const uint8_t *digest);

/* The entry of a replica, lent until the array changes; NULL where there is none. */
const VectorEntry *vector_find(const GArray *vector, const char *replica);

/* How many events the one holds that the other lacks. */
int64_t vector_ahead(const GArray *one, const GArray *other);

#endif
