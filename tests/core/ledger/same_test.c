/* SPDX-License-Identifier: Apache-2.0 */
/* Two ids of one client: whatever is said in whatever order, what is kept is what would be had the client had one id from the
 * beginning. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "core/ledger/same.h"
#include "tests/support/ledger_tables.h"

#define SEEDS 300
#define EVENTS 80

static void the_least_id_stands_for_all(void **state)
{
    g_autoptr(Same) same = same_new();

    (void)state;
    assert_string_equal(same_one(same, "K7QF"), "K7QF");
    same_add(same, "M2WT", "K7QF");
    same_add(same, "PPPP", "QQQQ");
    assert_string_equal(same_one(same, "M2WT"), "K7QF");
    same_add(same, "QQQQ", "M2WT");
    same_add(same, "AAAA", "PPPP");
    for (const char *const *id =
             (const char *const[]){"K7QF", "M2WT", "PPPP", "QQQQ", "AAAA", NULL};
         *id != NULL; id++)
        assert_string_equal(same_one(same, *id), "AAAA");
    g_autoptr(GPtrArray) all = same_all(same, "QQQQ");
    assert_int_equal(all->len, 5);
    assert_string_equal(all->pdata[4], "QQQQ");
}

static void the_clinic_is_nobody(void **state)
{
    g_autoptr(Same) same = same_new();

    (void)state;
    same_add(same, "AAAA", "clinic");
    same_add(same, "clinic", "BBBB");
    assert_string_equal(same_one(same, "clinic"), "clinic");
    assert_string_equal(same_one(same, "BBBB"), "BBBB");
}

static void the_order_of_what_is_said_plays_no_part(void **state)
{
    (void)state;
    for (guint32 seed = 1; seed <= SEEDS; seed++) {
        GRand *random = g_rand_new_with_seed(seed);
        g_autoptr(Same) forwards = same_new();
        g_autoptr(Same) backwards = same_new();
        char pairs[8][2][2];

        for (int i = 0; i < 8; i++)
            for (int k = 0; k < 2; k++)
                g_snprintf(pairs[i][k], 2, "%c", g_rand_int_range(random, 'A', 'P'));
        for (int i = 0; i < 8; i++) {
            same_add(forwards, pairs[i][0], pairs[i][1]);
            same_add(backwards, pairs[7 - i][1], pairs[7 - i][0]);
        }
        for (char id[2] = "A"; id[0] < 'P'; id[0]++)
            if (strcmp(same_one(forwards, id), same_one(backwards, id)) != 0)
                fail_msg("seed %u: %s", seed, id);
        g_rand_free(random);
    }
}

/* --- the tables --- */

static char *replaced(const char *text, const char *from, const char *to)
{
    g_auto(GStrv) parts = g_strsplit(text, from, -1);

    return g_strjoinv(to, parts);
}

/* What the other id was called was always called by the first. */
static void call_by_one_id(GPtrArray *events)
{
    for (guint i = 0; i < events->len; i++) {
        Event *event = events->pdata[i];

        if (strcmp(event->subject, "C2") == 0) {
            g_free(event->subject);
            event->subject = g_strdup("C1");
        }
        if (event->body == NULL) continue;
        char *body = replaced(event->body, "\"C2\"", "\"C1\"");
        g_free(event->body);
        event->body = body;
    }
}

/* Who was told to be one with whom, and under which ids somebody was erased, says more than one id can. */
static bool tells_of_ids(const char *line)
{
    return g_str_has_prefix(line, "same ") || g_str_has_prefix(line, "erased ") || *line == '\0';
}

static char *tables_of(const GPtrArray *events)
{
    LedgerTables *tables = ledger_tables_new();
    FoldTables fold = ledger_tables_fold(tables);
    GString *kept = g_string_new(NULL);

    for (guint i = 0; i < events->len; i++)
        ledger_tables_note(tables, events->pdata[i]);
    for (guint i = 0; i < events->len; i++)
        fold_event(&fold, events->pdata[i]);
    g_autofree char *dump = ledger_tables_dump(tables);
    g_auto(GStrv) lines = g_strsplit(dump, "\n", -1);
    for (int i = 0; lines[i] != NULL; i++)
        if (!tells_of_ids(lines[i])) g_string_append_printf(kept, "%s\n", lines[i]);
    ledger_tables_free(tables);
    return g_string_free(kept, FALSE);
}

/* A measure keeps its body, in which no client stands; all else is compared whole. */
static void two_ids_give_what_one_would_have(void **state)
{
    (void)state;
    print_message("seeds 1 to %d\n", SEEDS);
    for (guint32 seed = 1; seed <= SEEDS; seed++) {
        GRand *random = g_rand_new_with_seed(seed);
        g_autoptr(GPtrArray) events = ledger_history(random, 3, EVENTS);

        g_ptr_array_insert(events, g_rand_int_range(random, 0, EVENTS),
                           ledger_event("00000000000000dd", 1, 1002, "client.same_as", "C2",
                                        "{\"at\":1002,\"of\":\"C1\"}"));
        g_autofree char *joined = tables_of(events);
        call_by_one_id(events);
        g_autofree char *always_one = tables_of(events);
        if (strcmp(joined, always_one) != 0)
            fail_msg("seed %u\n--- joined\n%s\n--- always one\n%s", seed, joined, always_one);
        assert_null(strstr(joined, "client=C2"));
        g_rand_free(random);
    }
}

static void a_stop_of_either_stops_both(void **state)
{
    LedgerTables *tables = ledger_tables_new();
    FoldTables fold = ledger_tables_fold(tables);
    g_autoptr(Event) join =
        ledger_event("00000000000000aa", 1, 1000, "client.same_as", "K7QF", "{\"of\":\"M2WT\"}");
    g_autoptr(Event) stop =
        ledger_event("00000000000000bb", 1, 900, "client.stop", "M2WT", "{\"at\":900}");
    g_autoptr(Event) start = ledger_event("00000000000000bb", 2, 1100, "client.start", "K7QF",
                                          "{\"at\":1100,\"ends\":[\"00000000000000cc:9\"]}");

    (void)state;
    ledger_tables_note(tables, join);
    fold_event(&fold, stop);
    fold_event(&fold, join);
    fold_event(&fold, start);
    const Row *bar = ledger_tables_row(tables, TABLE_BAR, "00000000000000bb:1");
    assert_string_equal(row_text(bar, BAR_CLIENT), "K7QF");
    assert_true(row_is_null(
        bar, BAR_LIFTED_AT)); /* a start that names another bar ends none of this client's */
    ledger_tables_free(tables);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_least_id_stands_for_all),
        cmocka_unit_test(the_clinic_is_nobody),
        cmocka_unit_test(the_order_of_what_is_said_plays_no_part),
        cmocka_unit_test(two_ids_give_what_one_would_have),
        cmocka_unit_test(a_stop_of_either_stops_both),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
