/* SPDX-License-Identifier: Apache-2.0 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "adapters/store/find.h"
#include "adapters/store/find_people.h"
#include "adapters/store/find_record.h"
#include "tests/support/store_bench.h"

#define ONE_CLIENT "K7QF2M9T"

static bool add_alerts_and_clients(Tx *tx, void *context)
{
    static const char *const ALERTS[] = {"3F8A00", "3F8B00", "77A000", "77A0001", "%_"};
    static const char *const CLIENTS[] = {"K7QF2M9T", "K7QX2222", "WW222222"};

    (void)context;
    for (size_t i = 0; i < G_N_ELEMENTS(ALERTS); i++)
        tx_append(tx, "alert.opened", ALERTS[i], "osier", NULL, json_pack("{s:i}", "at", 5));
    for (size_t i = 0; i < G_N_ELEMENTS(CLIENTS); i++)
        tx_append(tx, "client.set", CLIENTS[i], "R. Okafor", NULL,
                  json_pack("{s:{s:s}}", "fields", "name", "Ada N."));
    return true;
}

static void expect(Tx *tx, const char *prefix, int count, const char *expected)
{
    g_autofree char *id = NULL;

    assert_int_equal(find_by_prefix(tx, TABLE_ALERT, prefix, &id), count);
    if (expected == NULL)
        assert_null(id);
    else
        assert_string_equal(id, expected);
}

static bool look_at_alerts(Tx *tx, void *context)
{
    g_autofree char *client = NULL;
    g_autofree char *several = NULL;

    (void)context;
    expect(tx, "3F8A", 1, "3F8A00");
    expect(tx, "3f8a", 1, "3F8A00");
    expect(tx, "3F8", 2, NULL);
    expect(tx, "9", 0, NULL);
    expect(tx, "", 0, NULL);
    expect(tx, "%", 1, "%_");
    expect(tx, "_", 0, NULL);
    expect(tx, "77A0", 2, NULL);
    expect(tx, "77a000", 1, "77A000"); /* the whole of one id, though another goes on */
    expect(tx, "3F8A000", 0, NULL);
    expect(tx, "\xc3\x89", 0, NULL);
    assert_int_equal(find_client_by_prefix(tx, "k7qf", &client), 1);
    assert_string_equal(client, "K7QF2M9T");
    assert_int_equal(find_client_by_prefix(tx, "K7Q", &several), 2);
    assert_null(several);
    return true;
}

static void any_unambiguous_beginning_names_it(void **state)
{
    Bench *bench = bench_open(BENCH_MEMORY);

    (void)state;
    assert_int_equal(bench_do(bench, add_alerts_and_clients, NULL), STORE_OK);
    assert_int_equal(bench_do(bench, look_at_alerts, NULL), STORE_OK);
    bench_close(bench);
}

static bool add_phones(Tx *tx, void *context)
{
    static const char *const CLIENTS[] = {"AAAA2222", "BBBB2222", "CCCC2222"};

    (void)context;
    for (size_t i = 0; i < G_N_ELEMENTS(CLIENTS); i++)
        tx_append(
            tx, "client.set", CLIENTS[i], "R. Okafor", NULL,
            json_pack("{s:{s:s}}", "fields", "phone", i < 2 ? "+442079460001" : "+442079460003"));
    return true;
}

static bool count_phones(Tx *tx, void *context)
{
    g_autoptr(GPtrArray) shared = find_contacts_by_address(tx, "+442079460001");
    g_autoptr(GPtrArray) own = find_contacts_by_address(tx, "+442079460003");
    g_autoptr(GPtrArray) nobodys = find_contacts_by_address(tx, "+442079460009");

    (void)context;
    assert_int_equal(shared->len, 2);
    assert_string_equal(row_text(shared->pdata[1], CONTACT_CLIENT), "BBBB2222");
    assert_int_equal(own->len, 1); /* for texts and for ringing: still one client */
    assert_int_equal(nobodys->len, 0);
    return true;
}

static void a_phone_counts_once_for_each_client(void **state)
{
    Bench *bench = bench_open(BENCH_MEMORY);

    (void)state;
    assert_int_equal(bench_do(bench, add_phones, NULL), STORE_OK);
    assert_int_equal(bench_do(bench, count_phones, NULL), STORE_OK);
    bench_close(bench);
}

/* Ids are hashes: their order says nothing. */
static const char *const CAME[] = {"M", "C", "Z", "A"};

static bool add_replies(Tx *tx, void *context)
{
    (void)context;
    for (size_t i = 0; i < G_N_ELEMENTS(CAME); i++)
        tx_append(tx, "reply.received", CAME[i], "client", NULL,
                  json_pack("{s:s, s:s, s:s, s:s, s:I}", "gateway", "texts", "from",
                            "+442079460001", "channel", "sms", "text", "done", "arrived",
                            (json_int_t)(CAME[i][0] == 'A' ? 5 : 7)));
    return true;
}

static bool look_at_received(Tx *tx, void *context)
{
    static const char *const READ[] = {"A", "M", "C"};
    g_autoptr(GPtrArray) rows = find_received(tx, G_N_ELEMENTS(READ));

    (void)context;
    assert_int_equal(rows->len, G_N_ELEMENTS(READ));
    for (size_t i = 0; i < G_N_ELEMENTS(READ); i++)
        assert_string_equal(row_text(rows->pdata[i], REPLY_ID), READ[i]);
    return true;
}

static void replies_of_one_instant_are_found_as_they_came(void **state)
{
    Bench *bench = bench_open(BENCH_MEMORY);

    (void)state;
    assert_int_equal(bench_do(bench, add_replies, NULL), STORE_OK);
    assert_int_equal(bench_do(bench, look_at_received, NULL), STORE_OK);
    bench_close(bench);
}

/* Two times of the second day changed places in the plan between their questions. */
static bool add_asked(Tx *tx, void *context)
{
    static const struct {
        const char *id, *date;
        int slot, asked_ms;
    } ASKED[] = {{"s1", "2026-03-02", 0, 10},
                 {"s2", "2026-03-03", 0, 30},
                 {"s3", "2026-03-03", 1, 20},
                 {"s4", "2026-03-03", 2, 30}};

    (void)context;
    for (size_t i = 0; i < G_N_ELEMENTS(ASKED); i++)
        tx_append(tx, "session.asked", ONE_CLIENT, "osier", NULL,
                  json_pack("{s:s, s:s, s:i, s:i}", "session", ASKED[i].id, "date", ASKED[i].date,
                            "slot", ASKED[i].slot, "at", ASKED[i].asked_ms));
    return true;
}

static void expect_asked(Tx *tx, int64_t before_ms, const char *id)
{
    g_autoptr(Row) asked = find_asked(tx, ONE_CLIENT, before_ms);

    if (id == NULL) {
        assert_null(asked);
        return;
    }
    assert_non_null(asked);
    assert_string_equal(row_text(asked, SESSION_ID), id);
}

static bool look_at_asked(Tx *tx, void *context)
{
    (void)context;
    expect_asked(tx, 100, "s4");
    expect_asked(tx, 30, "s4");
    expect_asked(tx, 29, "s3");
    expect_asked(tx, 19, "s1");
    expect_asked(tx, 9, NULL);
    assert_null(find_asked(tx, "WW222222", 100));
    return true;
}

static void of_one_day_the_session_asked_last_is_found(void **state)
{
    Bench *bench = bench_open(BENCH_MEMORY);

    (void)state;
    assert_int_equal(bench_do(bench, add_asked, NULL), STORE_OK);
    assert_int_equal(bench_do(bench, look_at_asked, NULL), STORE_OK);
    bench_close(bench);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(any_unambiguous_beginning_names_it),
        cmocka_unit_test(a_phone_counts_once_for_each_client),
        cmocka_unit_test(replies_of_one_instant_are_found_as_they_came),
        cmocka_unit_test(of_one_day_the_session_asked_last_is_found)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
