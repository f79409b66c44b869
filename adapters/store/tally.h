/* SPDX-License-Identifier: Apache-2.0 */
/* Are two heaps of rows the same rows, in whatever order they come? Of each row a keyed hash of 128 bits (SipHash-2-4) is added
 * to the sum of its table; equal sums say yes. The key is drawn for each comparison and told to nobody, so that rows which are
 * not the same give equal sums once in 2^128 comparisons, whoever made them. Not for other rooms. */
#ifndef OSIER_ADAPTERS_STORE_TALLY_H
#define OSIER_ADAPTERS_STORE_TALLY_H

#include "adapters/store/driver.h"

#define TALLY_KEY_BYTES 16

typedef struct {
    uint8_t key[TALLY_KEY_BYTES];
    uint8_t *bytes; /* of the row at hand */
    size_t length, size;
    uint64_t sum[TABLE_COUNT][2];
    int64_t rows[TABLE_COUNT];
} Tally;

/* Two with one key can be compared. */
void tally_begin(Tally *tally, const uint8_t key[TALLY_KEY_BYTES]);
void tally_end(Tally *tally);

void tally_row(Tally *tally, const Row *row);
/* The same of the row at which a select of all columns in their order stands. */
void tally_result(Tally *tally, Statement *statement, TableId id);

/* Adds what another one with the same key has counted. */
void tally_join(Tally *to, const Tally *from);

bool tally_is_equal(const Tally *a, const Tally *b, TableId id);

#endif
