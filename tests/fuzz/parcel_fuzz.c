/* SPDX-License-Identifier: Apache-2.0 */
/* Any bytes as a parcel from another replica: as they came, and compressed, so that what lies behind zlib is reached. What is read stays
 * within its bounds, goes out as it came in, and is folded. */
#include <gio/gio.h>
#include <stdint.h>
#include <string.h>

#include "adapters/peer/parcel.h"
#include "core/ledger/fold.h"
#include "core/ledger/pack.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static Row *no_row(void *context, const Row *key)
{
    (void)context;
    (void)key;
    return NULL;
}

static void no_put(void *context, const Row *row)
{
    (void)context;
    g_assert(row != NULL);
}

static GBytes *compress(const uint8_t *data, size_t size)
{
    g_autofree uint8_t *out = g_malloc(size + 1000);
    g_autoptr(GConverter) deflate =
        G_CONVERTER(g_zlib_compressor_new(G_ZLIB_COMPRESSOR_FORMAT_ZLIB, 1));
    gsize read, written;
    GConverterResult result = g_converter_convert(deflate, data, size, out, size + 1000,
                                                  G_CONVERTER_INPUT_AT_END, &read, &written, NULL);

    return result == G_CONVERTER_FINISHED ? g_bytes_new(out, written) : g_bytes_new(data, size);
}

static void read_parcel(GBytes *bytes)
{
    const FoldTables tables = {.get = no_row, .put = no_put};
    const char *why, *again_why;
    g_autoptr(Parcel) parcel = parcel_unpack(bytes, &why);

    g_assert((parcel == NULL) == (why != NULL));
    if (parcel == NULL) return;
    g_assert(parcel->events->len <= PARCEL_EVENTS_MAX && parcel->wall_ms >= 0);
    g_assert(vector_ahead(parcel->vector, parcel->marks) >= 0);
    for (guint i = 0; i < parcel->events->len; i++) {
        g_assert(event_fault(parcel->events->pdata[i]) == NULL);
        fold_event(&tables, parcel->events->pdata[i]);
    }
    g_autoptr(GBytes) packed = parcel_pack(parcel);
    if (packed == NULL) return;
    g_autoptr(Parcel) again = parcel_unpack(packed, &again_why);
    g_autoptr(GBytes) packed_again = again != NULL ? parcel_pack(again) : NULL;
    g_assert(packed_again != NULL && g_bytes_equal(packed, packed_again));
}

/* The head that every parcel has, so that what follows it is reached: a name, numbers, no probe. */
static GByteArray *begin(void)
{
    GByteArray *bytes = g_byte_array_new();

    pack_string(bytes, "osier parcel 1");
    pack_string(bytes, "0123456789abcdef");
    pack_string(bytes, "box");
    for (int i = 0; i < 3; i++)
        pack_number(bytes, i);
    pack_string(bytes, NULL);
    pack_string(bytes, NULL);
    for (int i = 0; i < 4; i++)
        pack_number(bytes, 0); /* probe from, to; an empty vector; no marks */
    return bytes;
}

/* One event whose kind, subject and body are the input's lines. */
static GByteArray *with_event(const uint8_t *data, size_t size)
{
    g_autofree char *text = g_strndup((const char *)data, size);
    g_auto(GStrv) lines = g_strsplit(text, "\n", 3);
    GByteArray *bytes = begin();

    pack_number(bytes, 1);
    if (g_strv_length(lines) == 3) {
        Event event = {.replica = (char *)"0123456789abcdef",
                       .seq = 1,
                       .wall = (int64_t)size,
                       .kind = lines[0],
                       .subject = lines[1],
                       .author = (char *)"R. Okafor",
                       .body = lines[2]};
        pack_event(bytes, &event);
    }
    return bytes;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    uint8_t way = size > 0 ? data[0] % 4 : 0;

    if (size < 2) return 0;
    if (way == 0) {
        g_autoptr(GBytes) bytes = g_bytes_new(data + 1, size - 1);
        read_parcel(bytes);
        return 0;
    }
    GByteArray *made = way == 1 ? g_byte_array_new() : way == 2 ? begin() : NULL;
    if (way == 3)
        made = with_event(data + 1, size - 1);
    else
        g_byte_array_append(made, data + 1, (guint)size - 1);
    g_autoptr(GBytes) packed = compress(made->data, made->len);
    read_parcel(packed);
    g_byte_array_unref(made);
    return 0;
}
