/* SPDX-License-Identifier: Apache-2.0 */
/* Somebody is erased, or two are one: what is on record of others stays as it lies. A row of another client that was tampered with
 * tells, since folding all anew would put it right. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "adapters/store/find_people.h"
#include "adapters/store/place.h"
#include "tests/support/store_bench.h"

#define TAMPERED "\"tampered with\""

static void name(Tx *tx, const char *client, const char *words)
{
    tx_append(tx, "client.set", client, "R. Okafor", NULL,
              json_pack("{s:{s:s, s:s}}", "fields", "name", words, "phone", "+442079460001"));
}

static bool enter_three(Tx *tx, void *context)
{
    (void)context;
    name(tx, "C1", "Ada N.");
    name(tx, "C2", "Ada Nn.");
    name(tx, "C3", "Bo T.");
    tx_append(tx, "hold.set", "C1", "R. Okafor", NULL, json_pack("{s:s}", "why", "a fall"));
    tx_append(tx, "reply.received", "R1", "client", NULL, json_pack("{s:s}", "text", "it hurts"));
    tx_append(tx, "reply.read", "R1", "osier", NULL,
              json_pack("{s:s, s:s}", "client", "C1", "state", "read"));
    tx_change(tx, "UPDATE setting SET value = ?1 WHERE subject = 'C3' AND field = 'name'", "t",
              TAMPERED);
    return true;
}

static bool erase_first(Tx *tx, void *context)
{
    (void)context;
    tx_append(tx, "client.erase", "C1", "R. Okafor", NULL, json_pack("{s:[s]}", "also", "R1"));
    return true;
}

static bool make_one(Tx *tx, void *context)
{
    (void)context;
    tx_append(tx, "client.same_as", "C2", "R. Okafor", NULL, json_pack("{s:s}", "of", "C1"));
    return true;
}

/* An event of one client that names a bar of another: no osier writes it. */
static bool lift_anothers(Tx *tx, void *context)
{
    g_autoptr(GPtrArray) bars = find_bars(tx, "C1");

    (void)context;
    assert_int_equal(bars->len, 1);
    tx_append(tx, "hold.lift", "C2", "R. Okafor", NULL,
              json_pack("{s:[s]}", "ends", row_text(bars->pdata[0], BAR_ID)));
    return true;
}

typedef struct {
    char *third;    /* name as kept */
    guint settings; /* of the first */
    guint bars;
    char *words; /* of the reply */
    char *reader;
} Seen;

static void keep_text(const TxResult *result, void *context)
{
    *(char **)context = g_strdup(result->text[0]);
}

static bool look(Tx *tx, void *context)
{
    Seen *seen = context;
    g_autoptr(GPtrArray) settings = tx_rows(tx, TABLE_SETTING, "subject = 'C1'", "");
    g_autoptr(GPtrArray) bars = tx_rows(tx, TABLE_BAR, "client = 'C1'", "");

    seen->settings = settings->len;
    seen->bars = bars->len;
    tx_select(tx, "SELECT value FROM setting WHERE subject = 'C3' AND field = 'name'", keep_text,
              &seen->third, "");
    tx_select(tx, "SELECT text FROM reply WHERE id = 'R1'", keep_text, &seen->words, "");
    tx_select(tx, "SELECT client FROM reply WHERE id = 'R1'", keep_text, &seen->reader, "");
    return true;
}

static void seen_free(Seen *seen)
{
    g_free(seen->third);
    g_free(seen->words);
    g_free(seen->reader);
}

static Seen play(BenchSort sort, StoreJob *first, StoreJob *then)
{
    Bench *bench = bench_open(sort);
    Seen seen = {0};

    assert_int_equal(bench_do(bench, enter_three, NULL), STORE_OK);
    if (first != NULL) assert_int_equal(bench_do(bench, first, NULL), STORE_OK);
    assert_int_equal(bench_do(bench, then, NULL), STORE_OK);
    assert_int_equal(bench_do(bench, look, &seen), STORE_OK);
    bench_close(bench);
    return seen;
}

static void one_is_erased(BenchSort sort)
{
    Seen seen = play(sort, NULL, erase_first);

    assert_string_equal(seen.third, TAMPERED);
    assert_int_equal(seen.settings, 0);
    assert_int_equal(seen.bars, 2); /* the hold without its words, and the erasure */
    assert_null(seen.words);
    seen_free(&seen);
}

static void two_are_one(BenchSort sort)
{
    Seen seen = play(sort, NULL, make_one);

    assert_string_equal(seen.third, TAMPERED);
    assert_int_equal(seen.settings, 2);
    assert_string_equal(seen.reader, "C1");
    seen_free(&seen);
}

static void all_is_folded_anew_once_an_event_names_what_is_anothers(BenchSort sort)
{
    Seen seen = play(sort, lift_anothers, erase_first);

    assert_string_equal(seen.third, "\"Bo T.\"");
    assert_int_equal(seen.settings, 0);
    seen_free(&seen);
}

static void on_each(void **state)
{
    static const BenchSort SORTS[] = {BENCH_MEMORY, BENCH_SQLITE, BENCH_POSTGRES};
    void (*const play_on)(BenchSort) = *state;

    for (size_t i = 0; i < G_N_ELEMENTS(SORTS); i++)
        play_on(SORTS[i]);
}

static bool lift_twice(Tx *tx, void *context)
{
    (void)context;
    for (int i = 0; i < 2; i++)
        tx_append(tx, "hold.lift", "C2", "R. Okafor", NULL,
                  json_pack("{s:[s]}", "ends", "00000000000000bb:7"));
    return true;
}

/* Of a bar that is not here yet; the events are elsewhere than the tables that they are folded into. */
static void a_bar_that_was_lifted_before_it_came_is_checked(void **state)
{
    Bench *bench = bench_open(BENCH_SQLITE);
    g_autoptr(GPtrArray) findings = g_ptr_array_new_with_free_func(g_free);
    g_autofree char *why = NULL;
    const StorePlace place = {.file = bench->path};
    int64_t events;

    (void)state;
    assert_int_equal(bench_do(bench, lift_twice, NULL), STORE_OK);
    bench_shut(bench);
    assert_int_equal(store_place_check(&place, true, findings, &events, &why), OPEN_OK);
    assert_int_equal(findings->len, 0);
    bench_reopen(bench);
    bench_close(bench);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        {"one_is_erased", on_each, NULL, NULL, one_is_erased},
        {"two_are_one", on_each, NULL, NULL, two_are_one},
        {"all_is_folded_anew_once_an_event_names_what_is_anothers", on_each, NULL, NULL,
         all_is_folded_anew_once_an_event_names_what_is_anothers},
        cmocka_unit_test(a_bar_that_was_lifted_before_it_came_is_checked),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
