/* SPDX-License-Identifier: Apache-2.0 */
/* Codes, keys and parcels between replicas. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "adapters/peer/code.h"
#include "adapters/peer/parcel.h"
#include "core/ledger/chain.h"

/* RFC 4648 section 10: BASE32("foobar") = "MZXW6YTBOI"; eight letters are five bytes, "MZXW6YTB" is "fooba". The first sixty bits
 * of "foobarfo" begin the same. */
static void a_code_is_base32_of_key_and_token(void **state)
{
    const uint8_t fingerprint[FINGERPRINT_BYTES] = "foobarfo";
    uint64_t token = 0;
    PairingCode code;

    (void)state;
    for (int i = 0; i < 5; i++)
        token = token << 8 | (uint8_t) "fooba"[i];
    g_autofree char *text = code_make(fingerprint, token);
    assert_int_equal(strlen(text), 23);
    assert_true(g_str_has_prefix(text, "MZXW6-YTBOJ"));
    assert_true(code_read(text, &code));
    assert_string_equal(code.token, "MZXW6YTB");
    assert_true(code_fits(&code, fingerprint));
}

static void a_code_is_read_as_people_type_it(void **state)
{
    const uint8_t fingerprint[FINGERPRINT_BYTES] = {0xff, 1, 2, 3, 4, 5, 6, 0x70};
    uint8_t other[FINGERPRINT_BYTES];
    g_autofree char *text = code_make(fingerprint, UINT64_C(0x1234567890));
    g_autofree char *small = g_ascii_strdown(text, -1);
    g_autofree char *spaced = g_strdup_printf(" %.5s %s\u200b ", small, small + 6);
    PairingCode code;

    (void)state;
    assert_true(code_read(spaced, &code));
    assert_true(code_fits(&code, fingerprint));
    memcpy(other, fingerprint, sizeof other);
    other[7] ^= 0x10; /* the sixtieth bit */
    assert_false(code_fits(&code, other));
    other[7] = fingerprint[7] ^ 0x01; /* beyond the sixty */
    assert_true(code_fits(&code, other));
    assert_false(code_read("ABCDE", &code));
    assert_false(code_read("ABCDE-FGHIJ-KLMNO-PQRST-U", &code));
    assert_false(code_read("ABCDE-FGHIJ-KLMNO-PQRS9", &code));
    assert_true(code_read("abcde-fghij-k1mn0-pqrs8", &code));
}

static void a_key_signs_and_another_does_not(void **state)
{
    g_autofree char *certificate = NULL, *key = NULL, *other = NULL, *other_key = NULL, *why = NULL;
    uint8_t digest[32] = {1, 2, 3};

    (void)state;
    assert_true(identity_make(&certificate, &key, &why));
    assert_true(identity_make(&other, &other_key, &why));
    g_autofree char *pin = identity_pin(certificate), *other_pin = identity_pin(other);
    assert_true(g_str_has_prefix(pin, "sha256//"));
    assert_string_not_equal(pin, other_pin);
    assert_null(strstr(certificate, "osier"));
    g_autoptr(GBytes) signature = identity_sign(key, digest);
    assert_true(identity_signed(certificate, digest, signature));
    assert_false(identity_signed(other, digest, signature));
    digest[31] ^= 1;
    assert_false(identity_signed(certificate, digest, signature));
    assert_false(identity_signed("no certificate", digest, signature));
    assert_null(identity_pin("no certificate"));
}

static Parcel *a_parcel(void)
{
    Parcel *parcel = parcel_new("0123456789abcdef", 1772442000000);
    uint8_t digest[DIGEST_BYTES] = {7};
    Event *event = event_new();

    parcel->name = g_strdup("box");
    parcel->more = true;
    vector_add(parcel->vector, "0123456789abcdef", 42, digest);
    *event = (Event){.replica = g_strdup("0123456789abcdef"),
                     .seq = 1,
                     .wall = 1772442000000,
                     .kind = g_strdup("client.set"),
                     .subject = g_strdup("K7QF2M9T"),
                     .author = g_strdup("command"),
                     .body = g_strdup("{\"fields\":{\"name\":\"Ada N.\"}}")};
    chain_seal(event, NULL);
    g_ptr_array_add(parcel->events, event);
    return parcel;
}

static void a_parcel_arrives_as_it_left(void **state)
{
    g_autoptr(Parcel) parcel = a_parcel();
    g_autoptr(GBytes) packed = parcel_pack(parcel);
    const char *why;
    g_autoptr(Parcel) arrived = parcel_unpack(packed, &why);

    (void)state;
    assert_non_null(arrived);
    assert_string_equal(arrived->replica, parcel->replica);
    assert_string_equal(arrived->name, "box");
    assert_true(arrived->more);
    assert_false(arrived->wait);
    assert_null(arrived->forked);
    assert_int_equal(vector_find(arrived->vector, "0123456789abcdef")->seq, 42);
    assert_int_equal(arrived->events->len, 1);
    assert_true(chain_holds(arrived->events->pdata[0], NULL));
}

/* Whatever is cut off or changed is refused: zlib's check value (RFC 1950) sees to the rest. */
static void a_parcel_cut_or_changed_anywhere_is_refused(void **state)
{
    g_autoptr(Parcel) parcel = a_parcel();
    g_autoptr(GBytes) packed = parcel_pack(parcel);
    gsize length;
    const uint8_t *bytes = g_bytes_get_data(packed, &length);
    const char *why;

    (void)state;
    for (gsize cut = 0; cut < length; cut++) {
        g_autoptr(GBytes) part = g_bytes_new(bytes, cut);
        assert_null(parcel_unpack(part, &why));
        assert_non_null(why);
    }
    for (gsize at = 0; at < length; at++) {
        g_autofree uint8_t *changed = g_memdup2(bytes, length);
        changed[at] ^= 0x20;
        g_autoptr(GBytes) odd = g_bytes_new(changed, length);
        g_autoptr(Parcel) read = parcel_unpack(odd, &why);
        g_autoptr(GBytes) again = read != NULL ? parcel_pack(read) : NULL;
        /* compression may say one thing in two ways */
        if (again != NULL && !g_bytes_equal(again, packed))
            fail_msg("byte %zu of %zu changed, and it is read as another", at, length);
    }
    g_autoptr(GBytes) longer = g_bytes_new_take(g_malloc0(PARCEL_MAX + 1), PARCEL_MAX + 1);
    assert_null(parcel_unpack(longer, &why));
}

/* A tree takes many times the room of its text. */
static Parcel *of_bodies_that_unfold(int events, bool last_is_an_object)
{
    Parcel *parcel = a_parcel();
    g_autoptr(GString) lists = g_string_new("[[]");

    while (lists->len < 100000)
        g_string_append(lists, ",[]");
    g_string_append_c(lists, ']');
    for (int i = 0; i < events; i++) {
        const Event *before = parcel->events->pdata[i];
        Event *event = event_copy(before);
        bool object = i + 1 < events || last_is_an_object;
        event->seq++;
        g_free(event->body);
        event->body = object ? g_strdup_printf("{\"a\":%s}", lists->str) : g_strdup(lists->str);
        chain_seal(event, before->digest);
        g_ptr_array_add(parcel->events, event);
    }
    return parcel;
}

static void the_trees_of_the_worst_bodies_are_not_all_kept(void **state)
{
    g_autoptr(Parcel) parcel = of_bodies_that_unfold(40, true);
    g_autoptr(GBytes) packed = parcel_pack(parcel);
    size_t kept = 0;
    const char *why;

    (void)state;
    g_autoptr(Parcel) arrived = parcel_unpack(packed, &why);
    assert_non_null(arrived);
    assert_int_equal(arrived->events->len, 41);
    for (guint i = 0; i < arrived->events->len; i++) {
        const Event *event = arrived->events->pdata[i];
        if (event->tree != NULL) kept += strlen(event->body);
    }
    assert_in_range(kept, 900000, 1024 * 1024);
    g_autoptr(Parcel) odd = of_bodies_that_unfold(40, false);
    g_autoptr(GBytes) bad = parcel_pack(odd);
    assert_null(parcel_unpack(bad, &why));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_code_is_base32_of_key_and_token),
        cmocka_unit_test(a_code_is_read_as_people_type_it),
        cmocka_unit_test(a_key_signs_and_another_does_not),
        cmocka_unit_test(a_parcel_arrives_as_it_left),
        cmocka_unit_test(a_parcel_cut_or_changed_anywhere_is_refused),
        cmocka_unit_test(the_trees_of_the_worst_bodies_are_not_all_kept),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
