/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/peer/parcel.h"

#include <gio/gio.h>
#include <string.h>

#include "core/ledger/pack.h"

#define MAGIC "osier parcel 1"
#define NAME_MAX_BYTES 200
#define ENTRIES_MAX 10000
/* The last instant of the year 9999. */
#define WALL_MAX INT64_C(253402300799999)
#define CHUNK 65536

Parcel *parcel_new(const char *replica, int64_t wall_ms)
{
    Parcel *parcel = g_new0(Parcel, 1);

    parcel->replica = g_strdup(replica);
    parcel->wall_ms = wall_ms;
    parcel->vector = vector_new();
    parcel->marks = vector_new();
    parcel->events = g_ptr_array_new_with_free_func((GDestroyNotify)event_free);
    return parcel;
}

void parcel_free(Parcel *parcel)
{
    if (parcel == NULL) return;
    g_free(parcel->replica);
    g_free(parcel->name);
    g_free(parcel->forked);
    g_free(parcel->probe);
    g_array_unref(parcel->vector);
    g_array_unref(parcel->marks);
    g_ptr_array_unref(parcel->events);
    g_free(parcel);
}

/* All of it through zlib, one way or the other; NULL where it does not go through, or comes to more than most. */
static GBytes *convert(GConverter *converter, const void *data, size_t length, size_t most)
{
    GByteArray *out = g_byte_array_new();
    const char *at = data;
    GConverterResult result = G_CONVERTER_CONVERTED;

    while (result != G_CONVERTER_FINISHED) {
        size_t before = out->len, read = 0, written = 0;

        if (before > most) break;
        g_byte_array_set_size(out, (guint)before + CHUNK);
        result = g_converter_convert(converter, at, length, out->data + before, CHUNK,
                                     G_CONVERTER_INPUT_AT_END, &read, &written, NULL);
        at += read;
        length -= read;
        g_byte_array_set_size(out, (guint)(before + written));
        if (result == G_CONVERTER_ERROR) break;
    }
    if (result == G_CONVERTER_FINISHED && out->len <= most && length == 0)
        return g_byte_array_free_to_bytes(out);
    g_byte_array_unref(out);
    return NULL;
}

/* --- packing --- */

static void pack_entries(GByteArray *bytes, const GArray *entries)
{
    pack_number(bytes, entries->len);
    for (guint i = 0; i < entries->len; i++) {
        const VectorEntry *entry = &g_array_index(entries, VectorEntry, i);
        pack_string(bytes, entry->replica);
        pack_number(bytes, entry->seq);
        pack_raw(bytes, entry->digest, DIGEST_BYTES);
    }
}

/* What the lowest level packs to 123 bytes the sixth packs to 115, and takes longer over it. */
#define LEVEL 1

/* A name comes from the record, where any may stand. */
static bool is_name(const char *text)
{
    if (strlen(text) > NAME_MAX_BYTES || !g_utf8_validate(text, -1, NULL)) return false;
    for (; *text != '\0'; text = g_utf8_next_char(text))
        if (g_unichar_iscntrl(g_utf8_get_char(text))) return false;
    return true;
}

GBytes *parcel_pack(const Parcel *parcel)
{
    bool named = parcel->name != NULL && is_name(parcel->name);
    GByteArray *bytes = g_byte_array_new();
    g_autoptr(GConverter) deflate =
        G_CONVERTER(g_zlib_compressor_new(G_ZLIB_COMPRESSOR_FORMAT_ZLIB, LEVEL));

    pack_string(bytes, MAGIC);
    pack_string(bytes, parcel->replica);
    pack_string(bytes, named ? parcel->name : NULL);
    pack_number(bytes, parcel->wall_ms);
    pack_number(bytes, parcel->wait);
    pack_number(bytes, parcel->more);
    pack_string(bytes, parcel->forked);
    pack_string(bytes, parcel->probe);
    pack_number(bytes, parcel->probe_from);
    pack_number(bytes, parcel->probe_to);
    pack_entries(bytes, parcel->vector);
    pack_entries(bytes, parcel->marks);
    pack_number(bytes, parcel->events->len);
    for (guint i = 0; i < parcel->events->len; i++)
        pack_event(bytes, parcel->events->pdata[i]);
    GBytes *packed = bytes->len <= PARCEL_UNFOLDED_MAX
                         ? convert(deflate, bytes->data, bytes->len, PARCEL_MAX)
                         : NULL;
    g_byte_array_unref(bytes);
    return packed;
}

/* --- unpacking --- */

static bool is_replica(const char *text)
{
    return text != NULL && strlen(text) == 16 && strspn(text, "0123456789abcdef") == 16;
}

static void unpack_entries(Packed *packed, GArray *entries)
{
    int64_t n = unpack_number(packed);

    if (n < 0 || n > ENTRIES_MAX) packed->broken = true;
    for (int64_t i = 0; i < n && !packed->broken; i++) {
        g_autofree char *replica = unpack_string(packed, 16);
        int64_t seq = unpack_number(packed);
        uint8_t digest[DIGEST_BYTES];

        unpack_raw(packed, digest, sizeof digest);
        if (!is_replica(replica) || seq < 1 || seq > PARCEL_SEQ_MAX) packed->broken = true;
        if (!packed->broken) vector_add(entries, replica, seq, digest);
    }
}

static void unpack_events(Packed *packed, GPtrArray *events)
{
    int64_t n = unpack_number(packed);

    if (n < 0 || n > PARCEL_EVENTS_MAX) packed->broken = true;
    for (int64_t i = 0; i < n && !packed->broken; i++) {
        Event *event = unpack_event(packed);
        if (event != NULL) g_ptr_array_add(events, event);
    }
}

static bool may_be_replica(const char *text)
{
    return text == NULL || is_replica(text);
}

/* NULL where a part cannot be. */
static Parcel *unpack_all(Packed *packed)
{
    g_autoptr(Parcel) parcel = parcel_new(NULL, 0);
    g_autofree char *magic = unpack_string(packed, strlen(MAGIC));

    if (g_strcmp0(magic, MAGIC) != 0) return NULL;
    parcel->replica = unpack_string(packed, 16);
    parcel->name = unpack_string(packed, NAME_MAX_BYTES);
    parcel->wall_ms = unpack_number(packed);
    parcel->wait = unpack_number(packed) != 0;
    parcel->more = unpack_number(packed) != 0;
    parcel->forked = unpack_string(packed, 16);
    parcel->probe = unpack_string(packed, 16);
    parcel->probe_from = unpack_number(packed);
    parcel->probe_to = unpack_number(packed);
    unpack_entries(packed, parcel->vector);
    unpack_entries(packed, parcel->marks);
    unpack_events(packed, parcel->events);
    if (packed->broken || packed->left > 0 || !is_replica(parcel->replica) ||
        !may_be_replica(parcel->forked) || !may_be_replica(parcel->probe) || parcel->wall_ms < 0 ||
        parcel->wall_ms > WALL_MAX || (parcel->name != NULL && !is_name(parcel->name)))
        return NULL;
    return g_steal_pointer(&parcel);
}

Parcel *parcel_unpack(GBytes *bytes, const char **why)
{
    size_t length;
    const void *data = g_bytes_get_data(bytes, &length);
    g_autoptr(GConverter) inflate =
        G_CONVERTER(g_zlib_decompressor_new(G_ZLIB_COMPRESSOR_FORMAT_ZLIB));

    *why = length > PARCEL_MAX ? "it is too large" : NULL;
    if (length == 0) *why = "it is empty";
    if (*why != NULL) return NULL;
    g_autoptr(GBytes) unfolded = convert(inflate, data, length, PARCEL_UNFOLDED_MAX);
    *why = "it is cut, changed or too large";
    if (unfolded == NULL) return NULL;
    Packed packed = {0};
    packed.at = g_bytes_get_data(unfolded, &packed.left);
    Parcel *parcel = unpack_all(&packed);
    *why = parcel == NULL ? "it is no parcel of a replica that this one understands" : NULL;
    return parcel;
}
