/* SPDX-License-Identifier: Apache-2.0 */
/* Two halves: what is asked for goes into the young one; when that is full it becomes the old one, and what the old one held is
 * let go. */
#include "adapters/store/rows.h"

#include <string.h>

#include "core/ledger/row.h"

/* Of each half. A reminder is a handful of rows, and some hundreds are under way at once. */
#define HALF_MAX 4096
/* Longer ones are few, and read again from their tables. */
#define KEY_MAX 160
#define ROW_BYTES_MAX 4096

typedef struct {
    Row *row; /* NULL: there is none */
    char key[];
} Entry;

struct Rows {
    guint most;              /* of each half */
    GHashTable *young, *old; /* of Entry by its key */
};

static void entry_free(void *gone)
{
    Entry *entry = gone;

    row_free(entry->row);
    g_free(entry);
}

static GHashTable *half_new(void)
{
    return g_hash_table_new_full(g_str_hash, g_str_equal, NULL, entry_free);
}

Rows *rows_new(void)
{
    Rows *rows = g_new0(Rows, 1);

    rows->young = half_new();
    rows->old = half_new();
    return rows;
}

void rows_free(Rows *rows)
{
    if (rows == NULL) return;
    g_hash_table_unref(rows->young);
    g_hash_table_unref(rows->old);
    g_free(rows);
}

void rows_forget(Rows *rows)
{
    g_hash_table_remove_all(rows->young);
    g_hash_table_remove_all(rows->old);
}

/* The table's letter, then each column of the key with its length before it. False where it is too long, or a key of numbers. */
static bool make_key(const Row *row, char *key)
{
    const Table *table = table_of(row_table(row));
    char *at = key;

    *at++ = (char)('A' + row_table(row));
    for (int i = 0; i < table->keys; i++) {
        const char *text = table->column[i].type == COLUMN_TEXT ? row_text(row, i) : NULL;
        size_t length = text != NULL ? strlen(text) : KEY_MAX;
        if (length >= 100 || at + length + 2 > key + KEY_MAX) return false;
        *at++ = (char)(1 + length);
        memcpy(at, text, length);
        at += length;
    }
    *at = '\0';
    return true;
}

static void put(Rows *rows, Entry *entry)
{
    if (g_hash_table_size(rows->young) >= HALF_MAX) {
        g_hash_table_unref(rows->old);
        rows->old = rows->young;
        rows->young = half_new();
    }
    g_hash_table_replace(rows->young, entry->key, entry);
}

/* The entry, which is young from now on; or NULL. */
static Entry *find(Rows *rows, const char *key)
{
    Entry *entry = g_hash_table_lookup(rows->young, key);

    if (entry != NULL) return entry;
    if (!g_hash_table_steal_extended(rows->old, key, NULL, (gpointer *)&entry)) return NULL;
    put(rows, entry);
    return entry;
}

bool rows_find(Rows *rows, const Row *key, const Row **row)
{
    char text[KEY_MAX];
    const Entry *entry = make_key(key, text) ? find(rows, text) : NULL;

    *row = entry != NULL ? entry->row : NULL;
    return entry != NULL;
}

static void drop(Rows *rows, const char *key)
{
    g_hash_table_remove(rows->young, key);
    g_hash_table_remove(rows->old, key);
}

static Row *copy_of(const Row *row)
{
    Row *copy = row != NULL ? row_copy(row) : NULL;

    if (copy != NULL) row_mark_stored(copy);
    return copy;
}

static void note(Rows *rows, const char *key, const Row *row)
{
    Entry *entry = find(rows, key);

    if (row != NULL && row_bytes(row) > ROW_BYTES_MAX) {
        drop(rows, key);
        return;
    }
    if (entry == NULL) {
        size_t size = strlen(key) + 1;
        entry = g_malloc(sizeof *entry + size);
        memcpy(entry->key, key, size);
        entry->row = NULL;
        put(rows, entry);
    }
    Row *before = entry->row;
    entry->row = copy_of(row);
    row_free(before);
}

void rows_note(Rows *rows, const Row *key, const Row *row)
{
    char text[KEY_MAX];

    if (make_key(key, text)) note(rows, text, row);
}

/* PostgreSQL keeps texts that are no UTF-8 mended. */
static bool is_kept_as_it_is(const Row *row)
{
    const Table *table = table_of(row_table(row));

    for (int i = 0; i < table->columns; i++)
        if (table->column[i].type == COLUMN_TEXT && !row_is_null(row, i) &&
            !g_utf8_validate(row_text(row, i), -1, NULL))
            return false;
    return true;
}

void rows_note_written(Rows *rows, const Row *key, const Row *row)
{
    char text[KEY_MAX];

    if (!make_key(key, text) || find(rows, text) == NULL) return;
    if (row == NULL || is_kept_as_it_is(row))
        note(rows, text, row);
    else
        drop(rows, text);
}
