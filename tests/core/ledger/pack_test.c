/* SPDX-License-Identifier: Apache-2.0 */
/* Events as bytes: what another replica says is taken whole and right, or not at all. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

#include "core/ledger/pack.h"
#include "core/ledger/vector.h"

static Event *make(void)
{
    Event *event = event_new();

    event->replica = g_strdup("00000000000000aa");
    event->seq = 7;
    event->wall = 1772438400000;
    event->logical = 2;
    event->kind = g_strdup("report.made");
    event->subject = g_strdup("K7QF2M9T");
    event->author = g_strdup("client");
    event->body = g_strdup("{\"pain\":\"2\"}");
    memset(event->salt, 3, SALT_BYTES);
    memset(event->body_hash, 4, DIGEST_BYTES);
    memset(event->digest, 5, DIGEST_BYTES);
    return event;
}

static GByteArray *packed(const Event *event)
{
    GByteArray *bytes = g_byte_array_new();

    pack_event(bytes, event);
    return bytes;
}

static Event *unpacked(const GByteArray *bytes, size_t length, bool *broken)
{
    Packed rest = {.at = bytes->data, .left = length};
    Event *event = unpack_event(&rest);

    *broken = rest.broken;
    return event;
}

static void set(char **field, const char *value)
{
    g_free(*field);
    *field = g_strdup(value);
}

static void what_was_packed_comes_out_the_same(void **state)
{
    g_autoptr(Event) event = make();
    bool broken;

    (void)state;
    for (int bare = 0; bare < 2; bare++) {
        if (bare) set(&event->body, NULL); /* redacted */
        set(&event->base, bare ? NULL : "00000000000000bb:3");
        g_autoptr(GByteArray) bytes = packed(event);
        g_autoptr(Event) back = unpacked(bytes, bytes->len, &broken);
        assert_non_null(back);
        assert_false(broken);
        g_autoptr(GByteArray) again = packed(back);
        assert_int_equal(again->len, bytes->len);
        assert_memory_equal(again->data, bytes->data, bytes->len);
        assert_true((back->body == NULL) == bare && (back->base == NULL) == bare);
    }
}

static void whatever_is_cut_short_is_no_event(void **state)
{
    g_autoptr(Event) event = make();
    g_autoptr(GByteArray) bytes = packed(event);
    bool broken;

    (void)state;
    for (size_t length = 0; length < bytes->len; length++) {
        assert_null(unpacked(bytes, length, &broken));
        assert_true(broken);
    }
}

/* Packs what make() made, with one field changed: it must be refused, in those words. */
static void refused(Event *event, const char *why)
{
    g_autoptr(GByteArray) bytes = packed(event);
    bool broken;

    if (why != NULL) assert_string_equal(event_fault(event), why);
    assert_null(unpacked(bytes, bytes->len, &broken));
    assert_true(broken);
    event_free(event);
}

static Event *with_replica(const char *replica)
{
    Event *event = make();

    set(&event->replica, replica);
    return event;
}

static Event *with_kind(const char *kind)
{
    Event *event = make();

    set(&event->kind, kind);
    return event;
}

static Event *with_body(const char *body)
{
    Event *event = make();

    set(&event->body, body);
    return event;
}

static void an_event_that_cannot_be_is_refused(void **state)
{
    (void)state;
    refused(with_replica(NULL), "its replica is no id");
    refused(with_replica("00000000000000a"), "its replica is no id");
    refused(with_replica("00000000000000AA"), "its replica is no id");
    refused(with_replica("0000000000000' --"), "its replica is no id");
    refused(with_kind(NULL), "its kind is no word");
    refused(with_kind(""), "its kind is no word");
    refused(with_kind("Report made"), "its kind is no word");
    refused(with_kind("a.kind.that.goes.on.for.longer.than.forty.letters"), "its kind is no word");
    refused(with_body("[1]"), "its body is no JSON object");
    refused(with_body("{\"pain\":2,\"pain\":9}"), "its body is no JSON object");
    refused(with_body("{\"pain\":"), "its body is no JSON object");
    refused(with_body(""), "its body is no JSON object");
    Event *event = make();
    event->seq = 0;
    refused(event, "its number is below 1");
    event = make();
    set(&event->subject, "");
    refused(event, "it is about nothing");
    event = make();
    set(&event->subject, NULL);
    refused(event, "it is about nothing");
    event = make();
    set(&event->author, NULL);
    refused(event, "it has no author");
}

static void a_part_that_is_too_long_or_no_text_is_refused(void **state)
{
    g_autofree char *subject = g_strnfill(301, 'x');
    g_autofree char *body = g_strdup_printf("{\"words\":\"%*s\"}", PACK_BODY_MAX, "");
    Event *event = make();

    (void)state;
    set(&event->subject, subject);
    refused(event, NULL);
    refused(with_body(body), NULL);
    event = make();
    set(&event->author, "\xc3\x28");
    refused(event, NULL);
}

/* A length that points beyond the end, and one that only looks like none. */
static void a_length_that_lies_reads_nothing(void **state)
{
    static const uint8_t LONG[] = {0xff, 0xff, 0xff, 0xfe, 'a'}, NONE[] = {0xff, 0xff, 0xff, 0xff};
    static const uint8_t ZERO_BYTE[] = {0, 0, 0, 2, 'a', 0};
    Packed beyond = {.at = LONG, .left = sizeof LONG}, none = {.at = NONE, .left = sizeof NONE};
    Packed zero = {.at = ZERO_BYTE, .left = sizeof ZERO_BYTE};

    (void)state;
    assert_null(unpack_string(&beyond, UINT32_MAX));
    assert_true(beyond.broken);
    assert_null(unpack_string(&none, 10));
    assert_false(none.broken);
    assert_null(unpack_string(&zero, 10));
    assert_true(zero.broken);
    assert_int_equal(unpack_number(&beyond), 0); /* once broken, nothing is read any more */
}

static void two_vectors_tell_what_each_side_lacks(void **state)
{
    static const uint8_t DIGEST[DIGEST_BYTES] = {1};
    g_autoptr(GArray) desk = vector_new();
    g_autoptr(GArray) laptop = vector_new();

    (void)state;
    assert_int_equal(vector_ahead(desk, laptop), 0);
    vector_add(desk, "00000000000000aa", 12, DIGEST);
    vector_add(desk, "00000000000000bb", 3, DIGEST);
    vector_add(laptop, "00000000000000bb", 5, DIGEST);
    assert_int_equal(vector_ahead(desk, laptop), 12); /* all of a replica it has not heard of */
    assert_int_equal(vector_ahead(laptop, desk), 2);
    assert_int_equal(vector_find(laptop, "00000000000000bb")->seq, 5);
    assert_null(vector_find(laptop, "00000000000000aa"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_was_packed_comes_out_the_same),
        cmocka_unit_test(whatever_is_cut_short_is_no_event),
        cmocka_unit_test(an_event_that_cannot_be_is_refused),
        cmocka_unit_test(a_part_that_is_too_long_or_no_text_is_refused),
        cmocka_unit_test(a_length_that_lies_reads_nothing),
        cmocka_unit_test(two_vectors_tell_what_each_side_lacks),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
