/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/store/gather.h"

/* 4 MB or so. */
#define ROWS_MOST 4000

struct Gather {
    GHashTable *rows[TABLE_COUNT]; /* key -> Held, whose row holds the key */
    GPtrArray *order;              /* of Held */
};

typedef struct {
    Row *row;
} Held;

static void free_held(void *gone)
{
    Held *held = gone;

    row_free(held->row);
    g_free(held);
}

bool gather_takes(TableId table)
{
    return table == TABLE_SESSION || table == TABLE_MESSAGE || table == TABLE_REPLY ||
           table == TABLE_REPORT;
}

Gather *gather_new(void)
{
    Gather *gather = g_new0(Gather, 1);

    for (TableId id = 0; id < TABLE_COUNT; id++)
        if (gather_takes(id)) gather->rows[id] = g_hash_table_new(g_str_hash, g_str_equal);
    gather->order = g_ptr_array_new_with_free_func(free_held);
    return gather;
}

void gather_free(Gather *gather)
{
    for (TableId id = 0; id < TABLE_COUNT; id++)
        if (gather->rows[id] != NULL) g_hash_table_unref(gather->rows[id]);
    g_ptr_array_unref(gather->order);
    g_free(gather);
}

void gather_forget(Gather *gather)
{
    if (gather->order->len == 0) return;
    for (TableId id = 0; id < TABLE_COUNT; id++)
        if (gather->rows[id] != NULL) g_hash_table_remove_all(gather->rows[id]);
    g_ptr_array_set_size(gather->order, 0);
}

static Held *find(const Gather *gather, const Row *key)
{
    if (gather->order->len == 0 || !gather_takes(row_table(key))) return NULL;
    return g_hash_table_lookup(gather->rows[row_table(key)], row_text(key, 0));
}

const Row *gather_find(const Gather *gather, const Row *key)
{
    const Held *held = find(gather, key);

    return held != NULL ? held->row : NULL;
}

void gather_put(Tx *tx, const Row *row)
{
    Gather *gather = tx->gather;
    Held *held = find(gather, row);
    Row *before = held != NULL ? held->row : NULL;

    if (held == NULL) {
        if (gather->order->len == ROWS_MOST) gather_flush(tx);
        held = g_new(Held, 1);
        g_ptr_array_add(gather->order, held);
    }
    held->row = row_copy(row);
    g_hash_table_replace(gather->rows[row_table(row)], (char *)row_text(held->row, 0), held);
    row_free(before);
}

void gather_flush(Tx *tx)
{
    for (guint i = 0; i < tx->gather->order->len; i++)
        engine_put_row(tx, ((const Held *)tx->gather->order->pdata[i])->row);
    gather_forget(tx->gather);
}
