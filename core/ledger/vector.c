/* SPDX-License-Identifier: Apache-2.0 */
#include "core/ledger/vector.h"

#include <string.h>

GArray *vector_new(void)
{
    return g_array_new(FALSE, TRUE, sizeof(VectorEntry));
}

void vector_add(GArray *vector, const char *replica, int64_t seq, const uint8_t *digest)
{
    VectorEntry entry = {.seq = seq};

    g_strlcpy(entry.replica, replica, sizeof entry.replica);
    memcpy(entry.digest, digest, DIGEST_BYTES);
    g_array_append_val(vector, entry);
}

const VectorEntry *vector_find(const GArray *vector, const char *replica)
{
    for (guint i = 0; i < vector->len; i++) {
        const VectorEntry *entry = &g_array_index(vector, VectorEntry, i);
        if (strcmp(entry->replica, replica) == 0) return entry;
    }
    return NULL;
}

int64_t vector_ahead(const GArray *one, const GArray *other)
{
    int64_t ahead = 0;

    for (guint i = 0; i < one->len; i++) {
        const VectorEntry *entry = &g_array_index(one, VectorEntry, i);
        const VectorEntry *there = vector_find(other, entry->replica);
        int64_t seq = there != NULL ? there->seq : 0;
        if (entry->seq > seq) ahead += entry->seq - seq;
    }
    return ahead;
}
