/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/store/tally.h"

#include <sodium.h>
#include <string.h>

G_STATIC_ASSERT(TALLY_KEY_BYTES == crypto_shorthash_siphashx24_KEYBYTES);

void tally_begin(Tally *tally, const uint8_t key[TALLY_KEY_BYTES])
{
    memset(tally, 0, sizeof *tally);
    memcpy(tally->key, key, TALLY_KEY_BYTES);
}

void tally_end(Tally *tally)
{
    g_free(tally->bytes);
}

/* Room for so many bytes behind those of the row that are written. */
static uint8_t *room(Tally *tally, size_t length)
{
    if (tally->size - tally->length < length) {
        tally->size = 2 * tally->size + length;
        tally->bytes = g_realloc(tally->bytes, tally->size);
    }
    tally->length += length;
    return tally->bytes + tally->length - length;
}

/* Each value begins with whether there is one; a text with its length, so that no two rows are written alike. */
static void add(Tally *tally, char sort, const void *value, size_t length)
{
    uint8_t *at = room(tally, 1 + length);

    at[0] = (uint8_t)sort;
    memcpy(at + 1, value, length);
}

static void add_null(Tally *tally)
{
    *room(tally, 1) = 'N';
}

/* NULL: there is none. */
static void add_text(Tally *tally, const char *text)
{
    if (text == NULL) {
        add_null(tally);
        return;
    }
    size_t length = strlen(text);

    add(tally, 'T', &length, sizeof length);
    memcpy(room(tally, length), text, length);
}

static void add_int(Tally *tally, int64_t integer)
{
    add(tally, 'I', &integer, sizeof integer);
}

static void add_real(Tally *tally, double real)
{
    real += 0; /* of the two noughts the one */
    add(tally, 'R', &real, sizeof real);
}

static void count(Tally *tally, TableId id)
{
    uint64_t hash[2];

    G_STATIC_ASSERT(sizeof hash == crypto_shorthash_siphashx24_BYTES);
    crypto_shorthash_siphashx24((unsigned char *)hash, tally->bytes, tally->length, tally->key);
    tally->sum[id][0] += hash[0];
    tally->sum[id][1] += hash[1];
    tally->rows[id]++;
    tally->length = 0;
}

void tally_row(Tally *tally, const Row *row)
{
    const Table *table = table_of(row_table(row));

    for (int i = 0; i < table->columns; i++) {
        if (row_is_null(row, i))
            add_null(tally);
        else if (table->column[i].type == COLUMN_TEXT)
            add_text(tally, row_text(row, i));
        else if (table->column[i].type == COLUMN_INTEGER)
            add_int(tally, row_int(row, i));
        else
            add_real(tally, row_real(row, i));
    }
    count(tally, row_table(row));
}

void tally_result(Tally *tally, Statement *statement, TableId id)
{
    const StatementCalls *calls = statement->calls;
    const Table *table = table_of(id);

    for (int i = 0; i < table->columns; i++) {
        if (table->column[i].type == COLUMN_TEXT)
            add_text(tally, calls->text(statement, i));
        else if (calls->type(statement, i) == VALUE_NULL)
            add_null(tally);
        else if (table->column[i].type == COLUMN_INTEGER)
            add_int(tally, calls->integer(statement, i));
        else
            add_real(tally, calls->real(statement, i));
    }
    count(tally, id);
}

void tally_join(Tally *to, const Tally *from)
{
    for (TableId id = 0; id < TABLE_COUNT; id++) {
        to->sum[id][0] += from->sum[id][0];
        to->sum[id][1] += from->sum[id][1];
        to->rows[id] += from->rows[id];
    }
}

bool tally_is_equal(const Tally *a, const Tally *b, TableId id)
{
    return a->rows[id] == b->rows[id] && a->sum[id][0] == b->sum[id][0] &&
           a->sum[id][1] == b->sum[id][1];
}
