/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/sync/peers.h"

#include <string.h>

#include "core/calendar/date.h"

Row *peer_by_pin(Job *job, const char *pin)
{
    g_autoptr(GPtrArray) rows =
        tx_rows(job->tx, TABLE_PEER, "pin = ?1 AND cut_at IS NULL", "t", pin);

    return rows->len == 1 ? row_copy(rows->pdata[0]) : NULL;
}

Row *peer_named(Job *job, const char *name)
{
    g_autofree char *lower = g_ascii_strdown(name, -1);
    g_autoptr(GPtrArray) named = tx_rows(job->tx, TABLE_PEER, "lower(name) = ?1", "t", lower);
    g_autoptr(GPtrArray) begun =
        tx_rows(job->tx, TABLE_PEER, "substr(id, 1, length(?1)) = ?1", "t", lower);
    const GPtrArray *rows = named->len > 0 ? named : begun;

    return rows->len == 1 ? row_copy(rows->pdata[0]) : NULL;
}

GPtrArray *peers_all(Job *job)
{
    return tx_rows(job->tx, TABLE_PEER, "ORDER BY paired_at, id", "");
}

bool peer_may_be(Job *job, const Row *peer, const char *id)
{
    if (strcmp(row_text(peer, PEER_ID), id) == 0) return true;
    g_autoptr(Row) other = tx_get_text(job->tx, TABLE_PEER, id);

    return other == NULL && strcmp(id, tx_replica(job->tx)) != 0;
}

static bool read_hex(const char *text, uint8_t *out)
{
    if (text == NULL || strlen(text) != 2 * DIGEST_BYTES) return false;
    for (int i = 0; i < DIGEST_BYTES; i++) {
        int high = g_ascii_xdigit_value(text[2 * i]), low = g_ascii_xdigit_value(text[2 * i + 1]);
        if (high < 0 || low < 0) return false;
        out[i] = (uint8_t)(high << 4 | low);
    }
    return true;
}

GArray *peer_vector(const Row *peer)
{
    const char *text = row_text(peer, PEER_VECTOR);
    json_t *list = text != NULL ? json_loads(text, 0, NULL) : NULL;
    GArray *vector = vector_new();
    size_t i;
    json_t *item;

    json_array_foreach(list, i, item)
    {
        const char *replica = json_string_value(json_array_get(item, 0));
        uint8_t digest[DIGEST_BYTES];
        if (replica != NULL && read_hex(json_string_value(json_array_get(item, 2)), digest))
            vector_add(vector, replica, json_integer_value(json_array_get(item, 1)), digest);
    }
    json_decref(list);
    return vector;
}

void peer_set_vector(Row *peer, const GArray *vector)
{
    json_t *list = json_array();

    for (guint i = 0; i < vector->len; i++) {
        const VectorEntry *entry = &g_array_index(vector, VectorEntry, i);
        char hex[2 * DIGEST_BYTES + 1];
        for (int k = 0; k < DIGEST_BYTES; k++)
            g_snprintf(hex + 2 * k, 3, "%02x", entry->digest[k]);
        json_array_append_new(list,
                              json_pack("[s, I, s]", entry->replica, (json_int_t)entry->seq, hex));
    }
    char *text = json_dumps(list, JSON_COMPACT);
    row_set_text(peer, PEER_VECTOR, text);
    free(text);
    json_decref(list);
}

/* Each replica's last entry that either knows of. */
static void take_greater(GArray *known, const GArray *theirs)
{
    for (guint i = 0; i < theirs->len; i++) {
        const VectorEntry *entry = &g_array_index(theirs, VectorEntry, i);
        VectorEntry *held = (VectorEntry *)vector_find(known, entry->replica);

        if (held == NULL)
            g_array_append_val(known, *entry);
        else
            held->seq = MAX(held->seq, entry->seq);
    }
}

Reach peers_reach(Job *job)
{
    g_autoptr(GPtrArray) peers = peers_all(job);
    g_autoptr(GArray) own = tx_vector(job->tx), none = vector_new();
    g_autoptr(GArray) known = g_array_copy(own);
    int paired = 0, heard = 0;

    for (guint i = 0; i < peers->len; i++) {
        const Row *peer = peers->pdata[i];
        g_autoptr(GArray) theirs = peer_vector(peer);

        if (!row_is_null(peer, PEER_CUT_AT)) continue;
        paired++;
        heard += !row_is_null(peer, PEER_LAST_AT);
        take_greater(known, theirs);
    }
    return (Reach){.here = vector_ahead(own, none),
                   .known = vector_ahead(known, none),
                   .heard = paired == 0 || heard > 0};
}

const char *peer_name(const Row *peer)
{
    const char *name = row_text(peer, PEER_NAME);

    return name != NULL ? name : row_text(peer, PEER_ID);
}

static json_t *instant_or_null(const Row *row, int column)
{
    if (row_is_null(row, column)) return json_null();
    g_autofree char *text = instant_format(row_int(row, column));
    return json_string(text);
}

json_t *peer_json(const Row *peer, const GArray *own)
{
    g_autoptr(GArray) theirs = peer_vector(peer);

    return json_pack("{s:s, s:s?, s:s?, s:s?, s:o, s:o, s:o, s:s?, s:I, s:I, s:o}", "replica",
                     row_text(peer, PEER_ID), "name", row_text(peer, PEER_NAME), "certificate",
                     row_text(peer, PEER_SIGN_KEY), "address", row_text(peer, PEER_ADDRESS),
                     "paired", instant_or_null(peer, PEER_PAIRED_AT), "cut",
                     instant_or_null(peer, PEER_CUT_AT), "last",
                     instant_or_null(peer, PEER_LAST_AT), "problem", row_text(peer, PEER_PROBLEM),
                     "lacks_there", (json_int_t)vector_ahead(own, theirs), "lacks_here",
                     (json_int_t)vector_ahead(theirs, own), "clock_ahead_ms",
                     row_is_null(peer, PEER_CLOCK_MS) ? json_null()
                                                      : json_integer(row_int(peer, PEER_CLOCK_MS)));
}
