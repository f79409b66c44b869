/* SPDX-License-Identifier: Apache-2.0 */
#include <string.h>

#include "adapters/store/engine.h"
#include "adapters/store/snapshot_part.h"
#include "core/ledger/pack.h"

/* More replicas no clinic ever had. */
#define REPLICAS_MAX 1000
#define SEQ_MAX (INT64_C(1) << 48)

void snapshot_shape(uint8_t digest[HASH_BYTES])
{
    Hash hash;

    hash_begin(&hash);
    for (TableId id = 0; id < TABLE_COUNT; id++) {
        const Table *table = table_of(id);
        if (!snapshot_has_table(id)) continue;
        hash_text(&hash, table->name);
        hash_number(&hash, (uint64_t)id);
        hash_number(&hash, (uint64_t)table->keys);
        for (int i = 0; i < table->columns; i++) {
            hash_text(&hash, table->column[i].name);
            hash_number(&hash, (uint64_t)table->column[i].type);
        }
    }
    hash_end(&hash, digest);
}

bool snapshot_is_heard(const char *kind)
{
    return strcmp(kind, "client.erase") == 0 || strcmp(kind, "redacted") == 0 ||
           strcmp(kind, "client.same_as") == 0;
}

static bool take_bytes(const Cell *cell, uint8_t *bytes, size_t length)
{
    if (cell->length != length) return false;
    memcpy(bytes, cell->text, length);
    return true;
}

bool snapshot_event(const Cell *cells, Event *event)
{
    *event = (Event){.replica = (char *)cells[0].text,
                     .seq = cells[1].integer,
                     .wall = cells[2].integer,
                     .logical = cells[3].integer,
                     .kind = (char *)cells[4].text,
                     .subject = (char *)cells[5].text,
                     .author = (char *)cells[6].text,
                     .base = (char *)cells[7].text,
                     .body = (char *)cells[9].text};
    return take_bytes(&cells[8], event->salt, SALT_BYTES) &&
           take_bytes(&cells[10], event->body_hash, DIGEST_BYTES) &&
           take_bytes(&cells[11], event->digest, DIGEST_BYTES);
}

/* A number as this machine keeps it, for the rows do. */
static const int64_t ORDER = 0x0102030405060708;

void snapshot_pack_head(GByteArray *head, const SnapshotLook *look)
{
    uint8_t shape[HASH_BYTES];

    snapshot_shape(shape);
    pack_number(head, SCHEMA_VERSION);
    pack_raw(head, shape, sizeof shape);
    pack_raw(head, &ORDER, sizeof ORDER);
    pack_number(head, look->crossed);
    pack_number(head, look->events);
    pack_number(head, look->vector->len);
    for (guint i = 0; i < look->vector->len; i++) {
        const VectorEntry *entry = &g_array_index(look->vector, VectorEntry, i);
        pack_string(head, entry->replica);
        pack_number(head, entry->seq);
        pack_raw(head, entry->digest, DIGEST_BYTES);
    }
}

static void unpack_vector(Packed *packed, SnapshotLook *look)
{
    int64_t replicas = unpack_number(packed), events = 0;

    if (replicas < 1 || replicas > REPLICAS_MAX) packed->broken = true;
    for (int64_t i = 0; i < replicas && !packed->broken; i++) {
        g_autofree char *replica = unpack_string(packed, 16);
        int64_t seq = unpack_number(packed);
        uint8_t digest[DIGEST_BYTES];

        unpack_raw(packed, digest, sizeof digest);
        if (replica == NULL || seq < 1 || seq > SEQ_MAX ||
            vector_find(look->vector, replica) != NULL)
            packed->broken = true;
        if (!packed->broken) vector_add(look->vector, replica, seq, digest);
        events += seq;
    }
    if (packed->left > 0 || events != look->events) packed->broken = true;
}

SnapshotLook *snapshot_unpack_head(const GByteArray *head, const char **why)
{
    g_autoptr(SnapshotLook) look = g_new0(SnapshotLook, 1);
    Packed packed = {.at = head->data, .left = head->len};
    uint8_t shape[HASH_BYTES], own[HASH_BYTES];
    int64_t order;

    snapshot_shape(own);
    look->vector = vector_new();
    bool same = unpack_number(&packed) == SCHEMA_VERSION;
    same = unpack_raw(&packed, shape, sizeof shape) && memcmp(shape, own, sizeof own) == 0 && same;
    same = unpack_raw(&packed, &order, sizeof order) && order == ORDER && same;
    *why = same ? "it is cut or changed" : "it is by another version of osier";
    look->crossed = unpack_number(&packed) != 0;
    look->events = unpack_number(&packed);
    unpack_vector(&packed, look);
    return same && !packed.broken ? g_steal_pointer(&look) : NULL;
}

void snapshot_look_free(SnapshotLook *look)
{
    if (look == NULL) return;
    if (look->vector != NULL) g_array_unref(look->vector);
    g_free(look);
}
