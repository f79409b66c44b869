/* SPDX-License-Identifier: Apache-2.0 */
/* A parcel that is whole but cannot be: what a replica gone wrong, or somebody with its key, might send. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <gio/gio.h>
#include <string.h>

#include "adapters/peer/parcel.h"
#include "core/ledger/pack.h"

#define DESK "0123456789abcdef"
#define LAPTOP "fedcba9876543210"
#define NO_PARCEL "it is no parcel of a replica that this one understands"
#define NO_ROOM "it is cut, changed or too large"

static const uint8_t DIGEST[DIGEST_BYTES] = {7};

static GBytes *through(GConverter *converter, const void *data, gsize length)
{
    g_autoptr(GOutputStream) memory = g_memory_output_stream_new_resizable();
    g_autoptr(GOutputStream) stream = g_converter_output_stream_new(memory, converter);

    assert_true(g_output_stream_write_all(stream, data, length, NULL, NULL, NULL));
    assert_true(g_output_stream_close(stream, NULL, NULL));
    return g_memory_output_stream_steal_as_bytes(G_MEMORY_OUTPUT_STREAM(memory));
}

/* Compressed as a parcel is. */
static GBytes *folded(const void *data, gsize length)
{
    g_autoptr(GConverter) deflate =
        G_CONVERTER(g_zlib_compressor_new(G_ZLIB_COMPRESSOR_FORMAT_ZLIB, 6));

    return through(deflate, data, length);
}

static GByteArray *unfolded(const Parcel *parcel)
{
    g_autoptr(GBytes) packed = parcel_pack(parcel);
    g_autoptr(GConverter) inflate =
        G_CONVERTER(g_zlib_decompressor_new(G_ZLIB_COMPRESSOR_FORMAT_ZLIB));
    gsize length;
    const void *data = g_bytes_get_data(packed, &length);

    return g_bytes_unref_to_array(through(inflate, data, length));
}

static void bytes_refused(const void *data, gsize length, const char *wanted)
{
    g_autoptr(GBytes) packed = folded(data, length);
    const char *why = NULL;

    assert_null(parcel_unpack(packed, &why));
    assert_string_equal(why, wanted);
}

/* Packed as it is, refused where it arrives; frees it. */
static void refused(Parcel *parcel)
{
    g_autoptr(GBytes) packed = parcel_pack(parcel);
    const char *why = NULL;

    assert_non_null(packed);
    assert_null(parcel_unpack(packed, &why));
    assert_string_equal(why, NO_PARCEL);
    parcel_free(parcel);
}

static Parcel *good(void)
{
    Parcel *parcel = parcel_new(DESK, 1772442000000);

    vector_add(parcel->vector, DESK, 42, DIGEST);
    return parcel;
}

static void ids_that_are_none_are_refused(void **state)
{
    static const char *const BAD[] = {"", "0123456789abcde", "0123456789ABCDEF",
                                      "0123456789abcde'"};

    (void)state;
    refused(parcel_new(NULL, 0));
    for (gsize i = 0; i < G_N_ELEMENTS(BAD); i++) {
        refused(parcel_new(BAD[i], 0));
        Parcel *parcel = good();
        parcel->forked = g_strdup(BAD[i]);
        refused(parcel);
        parcel = good();
        parcel->probe = g_strdup(BAD[i]);
        refused(parcel);
        parcel = good();
        vector_add(parcel->vector, BAD[i], 1, DIGEST);
        refused(parcel);
    }
}

static void numbers_that_nobody_counts_to_are_refused(void **state)
{
    static const int64_t SEQS[] = {0, -1, INT64_MIN, PARCEL_SEQ_MAX + 1, INT64_MAX};
    static const int64_t WALLS[] = {-1, INT64_MIN, INT64_C(253402300800000), INT64_MAX};

    (void)state;
    for (gsize i = 0; i < G_N_ELEMENTS(SEQS); i++) {
        Parcel *parcel = good();
        vector_add(parcel->vector, LAPTOP, SEQS[i], DIGEST);
        refused(parcel);
        parcel = good();
        vector_add(parcel->marks, LAPTOP, SEQS[i], DIGEST);
        refused(parcel);
    }
    for (gsize i = 0; i < G_N_ELEMENTS(WALLS); i++)
        refused(parcel_new(DESK, WALLS[i]));
}

static Event *event_of(int64_t seq, const char *kind)
{
    Event *event = event_new();

    event->replica = g_strdup(DESK);
    event->seq = seq;
    event->kind = g_strdup(kind);
    event->subject = g_strdup("K7QF2M9T");
    event->author = g_strdup("client");
    event->body = g_strdup("{}");
    return event;
}

static void one_bad_event_spoils_the_parcel(void **state)
{
    Parcel *parcel = good();

    (void)state;
    g_ptr_array_add(parcel->events, event_of(1, "client.set"));
    g_ptr_array_add(parcel->events, event_of(2, "client set"));
    refused(parcel);
}

static void more_events_than_a_parcel_holds_are_refused(void **state)
{
    Parcel *parcel = good();
    const char *why;

    (void)state;
    for (int64_t seq = 1; seq <= PARCEL_EVENTS_MAX; seq++)
        g_ptr_array_add(parcel->events, event_of(seq, "client.set"));
    g_autoptr(GBytes) full = parcel_pack(parcel);
    g_autoptr(Parcel) arrived = parcel_unpack(full, &why);
    assert_non_null(arrived);
    g_ptr_array_add(parcel->events, event_of(PARCEL_EVENTS_MAX + 1, "client.set"));
    refused(parcel);
}

static void a_name_with_control_characters_is_neither_sent_nor_taken(void **state)
{
    g_autoptr(Parcel) parcel = good();
    const char *why;

    (void)state;
    parcel->name = g_strdup("desk\033[2J");
    g_autoptr(GBytes) packed = parcel_pack(parcel);
    g_autoptr(Parcel) arrived = parcel_unpack(packed, &why);
    assert_non_null(arrived);
    assert_null(arrived->name);
    g_free(parcel->name);
    parcel->name = g_strdup("desk#[2J");
    g_autoptr(GByteArray) plain = unfolded(parcel);
    guint8 *mark = memchr(plain->data, '#', plain->len);
    *mark = '\033';
    bytes_refused(plain->data, plain->len, NO_PARCEL);
}

static void another_sort_or_something_behind_it_is_refused(void **state)
{
    g_autoptr(Parcel) parcel = good();
    g_autoptr(GByteArray) plain = unfolded(parcel);

    (void)state;
    bytes_refused("no parcel at all", 16, NO_PARCEL);
    g_byte_array_append(plain, (const guint8 *)"", 1);
    bytes_refused(plain->data, plain->len, NO_PARCEL);
    plain->data[4] ^= 1; /* "osier parcel 1", behind its length */
    bytes_refused(plain->data, plain->len - 1, NO_PARCEL);
}

static void little_that_unfolds_to_very_much_is_refused(void **state)
{
    g_autofree guint8 *zeros = g_malloc0(PARCEL_UNFOLDED_MAX + 1);
    g_autoptr(GBytes) small = folded(zeros, PARCEL_UNFOLDED_MAX + 1);

    (void)state;
    assert_true(g_bytes_get_size(small) < PARCEL_MAX / 100);
    bytes_refused(zeros, PARCEL_UNFOLDED_MAX + 1, NO_ROOM);
}

/* What it says it holds, and does not: nothing is made room for before it is there. */
static void counts_that_lie_are_refused(void **state)
{
    static const int64_t COUNTS[] = {-1, 2, 10001, INT64_MAX};

    (void)state;
    for (gsize i = 0; i < G_N_ELEMENTS(COUNTS); i++) {
        g_autoptr(Parcel) parcel = parcel_new(DESK, 0);
        g_autoptr(GByteArray) plain = unfolded(parcel);
        uint64_t big_endian = GUINT64_TO_BE((uint64_t)COUNTS[i]);
        /* Its last three numbers are those of the vector, the marks and the events, each 0. */
        for (guint back = 8; back <= 24; back += 8) {
            g_autofree guint8 *lie = g_memdup2(plain->data, plain->len);
            memcpy(lie + plain->len - back, &big_endian, sizeof big_endian);
            bytes_refused(lie, plain->len, NO_PARCEL);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(ids_that_are_none_are_refused),
        cmocka_unit_test(numbers_that_nobody_counts_to_are_refused),
        cmocka_unit_test(one_bad_event_spoils_the_parcel),
        cmocka_unit_test(more_events_than_a_parcel_holds_are_refused),
        cmocka_unit_test(a_name_with_control_characters_is_neither_sent_nor_taken),
        cmocka_unit_test(another_sort_or_something_behind_it_is_refused),
        cmocka_unit_test(little_that_unfolds_to_very_much_is_refused),
        cmocka_unit_test(counts_that_lie_are_refused),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
