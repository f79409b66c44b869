/* SPDX-License-Identifier: Apache-2.0 */
/* Any set of events in any order, with repeats, gives the same tables: histories of every kind,
 * drawn at random. The laws are those of Shapiro, Preguica, Baquero and Zawirski, INRIA RR-7506
 * (2011): commutative, associative, idempotent. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "tests/support/ledger_tables.h"

#define SEEDS 400
#define EVENTS 80
#define ORDERS 4

static void fold_all(LedgerTables *tables, const GPtrArray *events)
{
    FoldTables fold = ledger_tables_fold(tables);

    for (guint i = 0; i < events->len; i++)
        fold_event(&fold, events->pdata[i]);
}

static void note_all(LedgerTables *tables, const GPtrArray *events)
{
    for (guint i = 0; i < events->len; i++)
        ledger_tables_note(tables, events->pdata[i]);
}

static char *dump_of(const GPtrArray *first, const GPtrArray *second)
{
    LedgerTables *tables = ledger_tables_new();

    note_all(tables, first);
    if (second != NULL) note_all(tables, second);
    fold_all(tables, first);
    if (second != NULL) fold_all(tables, second);
    char *dump = ledger_tables_dump(tables);
    ledger_tables_free(tables);
    return dump;
}

/* A shuffled list that holds every event once or more. The events stay with their owner. */
static GPtrArray *shuffle(GRand *random, const GPtrArray *events)
{
    GPtrArray *order = g_ptr_array_new();

    for (guint i = 0; i < events->len; i++)
        for (int times = g_rand_int_range(random, 0, 4) == 0 ? 3 : 1; times > 0; times--)
            g_ptr_array_add(order, events->pdata[i]);
    for (guint i = order->len - 1; i > 0; i--) {
        guint other = (guint)g_rand_int_range(random, 0, (gint32)i + 1);
        gpointer held = order->pdata[i];

        order->pdata[i] = order->pdata[other];
        order->pdata[other] = held;
    }
    return order;
}

static void tell_difference(guint32 seed, const char *one, const char *other)
{
    g_auto(GStrv) a = g_strsplit(one, "\n", -1), b = g_strsplit(other, "\n", -1);

    for (int i = 0; a[i] != NULL && b[i] != NULL; i++) {
        if (strcmp(a[i], b[i]) != 0) {
            fail_msg("seed %u:\n  %s\n  %s", seed, a[i], b[i]);
            return;
        }
    }
    fail_msg("seed %u: one has more rows", seed);
}

static void check_orders(guint32 seed)
{
    GRand *random = g_rand_new_with_seed(seed);
    g_autoptr(GPtrArray) events = ledger_history(random, 1 + (int)(seed % 3), EVENTS);
    g_autofree char *expected = dump_of(events, NULL);

    for (int i = 0; i < ORDERS; i++) {
        g_autoptr(GPtrArray) order = shuffle(random, events);
        g_autofree char *dump = dump_of(order, NULL);

        if (strcmp(dump, expected) != 0) tell_difference(seed, expected, dump);
    }
    g_rand_free(random);
}

static void every_order_gives_the_same_tables(void **state)
{
    (void)state;
    print_message("seeds 1 to %d, %d events, %d orders each\n", SEEDS, EVENTS, ORDERS);
    for (guint32 seed = 1; seed <= SEEDS; seed++)
        check_orders(seed);
}

static void merging_is_commutative_and_idempotent(void **state)
{
    (void)state;
    for (guint32 seed = 1000; seed < 1100; seed++) {
        GRand *random = g_rand_new_with_seed(seed);
        g_autoptr(GPtrArray) all = ledger_history(random, 3, EVENTS);
        g_autoptr(GPtrArray) ours = g_ptr_array_new(), theirs = g_ptr_array_new();

        for (guint i = 0; i < all->len; i++)
            g_ptr_array_add(((Event *)all->pdata[i])->replica[15] == 'a' ? ours : theirs,
                            all->pdata[i]);
        g_autofree char *ours_first = dump_of(ours, theirs);
        g_autofree char *theirs_first = dump_of(theirs, ours);
        g_autofree char *once = dump_of(all, NULL);
        g_autofree char *twice = dump_of(all, all);
        if (strcmp(ours_first, theirs_first) != 0) tell_difference(seed, ours_first, theirs_first);
        if (strcmp(once, twice) != 0) tell_difference(seed, once, twice);
        assert_string_equal(once, ours_first);
        g_rand_free(random);
    }
}

/* The generator is worth something only if every derived table gets rows. */
static void histories_fill_every_table(void **state)
{
    LedgerTables *tables = ledger_tables_new();
    GRand *random = g_rand_new_with_seed(7);
    g_autoptr(GPtrArray) events = ledger_history(random, 3, 3000);

    (void)state;
    fold_all(tables, events);
    g_autofree char *dump = ledger_tables_dump(tables);
    g_autofree char *lines = g_strconcat("\n", dump, NULL);
    for (TableId id = 0; id < TABLE_COUNT; id++) {
        g_autofree char *begin = g_strdup_printf("\n%s ", table_of(id)->name);

        if (!table_of(id)->local && strstr(lines, begin) == NULL)
            fail_msg("no row in %s", table_of(id)->name);
    }
    g_rand_free(random);
    ledger_tables_free(tables);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(histories_fill_every_table),
        cmocka_unit_test(every_order_gives_the_same_tables),
        cmocka_unit_test(merging_is_commutative_and_idempotent),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
