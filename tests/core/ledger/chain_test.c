/* SPDX-License-Identifier: Apache-2.0 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "core/ledger/chain.h"

static Event *make(int64_t seq, const char *base)
{
    Event *event = event_new();

    event->replica = g_strdup("00000000000000aa");
    event->seq = seq;
    event->wall = 1772438400000 + seq;
    event->logical = seq % 3;
    event->kind = g_strdup("report.made");
    event->subject = g_strdup("K7QF2M9T");
    event->author = g_strdup("client");
    event->base = g_strdup(base);
    event->body = g_strdup("{\"done\":\"yes\",\"pain\":\"2\"}");
    memset(event->salt, (int)seq, SALT_BYTES);
    return event;
}

static void every_flipped_bit_of(Event *event, void *field, size_t bytes, const uint8_t *previous)
{
    for (size_t bit = 0; bit < 8 * bytes; bit++) {
        uint8_t *byte = (uint8_t *)field + bit / 8;

        *byte ^= (uint8_t)(1u << (bit % 8));
        assert_false(chain_holds(event, previous));
        *byte ^= (uint8_t)(1u << (bit % 8));
    }
    assert_true(chain_holds(event, previous));
}

static void any_flipped_bit_is_found(void **state)
{
    g_autoptr(Event) first = make(1, NULL);
    g_autoptr(Event) event = make(2, "00000000000000aa:1");

    (void)state;
    chain_seal(first, NULL);
    chain_seal(event, first->digest);
    assert_true(chain_holds(first, NULL));
    every_flipped_bit_of(event, event->replica, 16, first->digest);
    every_flipped_bit_of(event, &event->seq, 8, first->digest);
    every_flipped_bit_of(event, &event->wall, 8, first->digest);
    every_flipped_bit_of(event, &event->logical, 8, first->digest);
    every_flipped_bit_of(event, event->kind, strlen(event->kind), first->digest);
    every_flipped_bit_of(event, event->subject, strlen(event->subject), first->digest);
    every_flipped_bit_of(event, event->author, strlen(event->author), first->digest);
    every_flipped_bit_of(event, event->base, strlen(event->base), first->digest);
    every_flipped_bit_of(event, event->body, strlen(event->body), first->digest);
    every_flipped_bit_of(event, event->salt, SALT_BYTES, first->digest);
    every_flipped_bit_of(event, event->body_hash, DIGEST_BYTES, first->digest);
    every_flipped_bit_of(event, event->digest, DIGEST_BYTES, first->digest);
    every_flipped_bit_of(event, first->digest, DIGEST_BYTES, first->digest);
}

static void no_base_is_not_an_empty_base(void **state)
{
    g_autoptr(Event) event = make(1, NULL);

    (void)state;
    chain_seal(event, NULL);
    event->base = g_strdup("");
    assert_false(chain_holds(event, NULL));
}

/* A letter moved from one field into the next. */
static void fields_do_not_run_into_each_other(void **state)
{
    g_autoptr(Event) event = make(1, NULL);

    (void)state;
    chain_seal(event, NULL);
    g_free(event->kind);
    g_free(event->subject);
    event->kind = g_strdup("report.mad");
    event->subject = g_strdup("eK7QF2M9T");
    assert_false(chain_holds(event, NULL));
}

static void a_blanked_body_leaves_the_chain_whole(void **state)
{
    g_autoptr(Event) first = make(1, NULL);
    g_autoptr(Event) second = make(2, NULL);

    (void)state;
    chain_seal(first, NULL);
    chain_seal(second, first->digest);
    g_clear_pointer(&first->body, g_free);
    memset(first->salt, 0, SALT_BYTES);
    assert_true(chain_holds(first, NULL));
    assert_true(chain_holds(second, first->digest));
    first->body = g_strdup("{\"done\":\"no\"}");
    assert_false(chain_holds(first, NULL));
}

/* Worked out apart over the bytes that the header describes: ledgers written before must hold for
 * ever. */
static void digest_stays_what_it_is(void **state)
{
    g_autoptr(Event) event = make(1, NULL);
    GString *hex = g_string_new(NULL);

    (void)state;
    chain_seal(event, NULL);
    for (int i = 0; i < DIGEST_BYTES; i++)
        g_string_append_printf(hex, "%02x", event->digest[i]);
    assert_string_equal(hex->str,
                        "e7c43fb68b1755f40d0092dcc759ed7ed57139fd325ed2922b040724cdc02d36");
    g_string_free(hex, TRUE);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(digest_stays_what_it_is),
        cmocka_unit_test(any_flipped_bit_is_found),
        cmocka_unit_test(no_base_is_not_an_empty_base),
        cmocka_unit_test(fields_do_not_run_into_each_other),
        cmocka_unit_test(a_blanked_body_leaves_the_chain_whole),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
