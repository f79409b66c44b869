/* SPDX-License-Identifier: Apache-2.0 */
/* A client's card says what the tables say, whatever was put, undone or folded anew in between. Seeds are printed. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "adapters/store/card.h"
#include "tests/support/store_bench.h"

#define CLIENTS 3

static const char *const CLIENT[CLIENTS] = {"K7QF2M9T", "K7QX2222", "WW222222"};

static void add_setting(const char *field, const char *value, void *context)
{
    g_string_append_printf(context, "%s=%s\n", field, value != NULL ? value : "nothing");
}

static void add_contact(const char *channel, const char *address, bool consent, void *context)
{
    g_string_append_printf(context, "%s:%s%s\n", channel, address != NULL ? address : "nothing",
                           consent ? " may" : "");
}

static char *by_card(Tx *tx, const char *client)
{
    GString *text = g_string_new(NULL);
    bool barred;
    int settings = card_read(
        tx, client, &(CardReader){.setting = add_setting, .contact = add_contact, text}, &barred);

    g_string_append_printf(text, "%d%s", settings, barred ? " barred" : "");
    return g_string_free(text, FALSE);
}

static char *by_tables(Tx *tx, const char *client)
{
    GString *text = g_string_new(NULL);
    g_autoptr(GPtrArray) bars = find_bars(tx, client);
    g_autoptr(GPtrArray) contacts = find_contacts(tx, client);
    int settings = find_setting_values(tx, client, add_setting, text);

    for (guint i = 0; settings > 0 && i < contacts->len; i++)
        add_contact(row_text(contacts->pdata[i], CONTACT_CHANNEL),
                    row_text(contacts->pdata[i], CONTACT_ADDRESS),
                    !row_is_null(contacts->pdata[i], CONTACT_CONSENT), text);
    g_string_append_printf(text, "%d%s", settings, settings > 0 && bars->len > 0 ? " barred" : "");
    return g_string_free(text, FALSE);
}

static void expect_same(Tx *tx)
{
    for (int i = 0; i < CLIENTS; i++) {
        g_autofree char *card = by_card(tx, CLIENT[i]);
        g_autofree char *tables = by_tables(tx, CLIENT[i]);
        assert_string_equal(card, tables);
    }
}

static bool compare_job(Tx *tx, void *context)
{
    (void)context;
    expect_same(tx);
    return true;
}

/* Values that a text with marks in it would trip over. */
static const char *const VALUES[] = {"Ada N.", "", "3:a,b,", "12:", ",", "\xc3\x89lo\xc3\xafse",
                                     "a\nb"};

static void put_something(Tx *tx, GRand *random)
{
    const char *client = CLIENT[g_rand_int_range(random, 0, CLIENTS)];
    const char *value = VALUES[g_rand_int_range(random, 0, G_N_ELEMENTS(VALUES))];
    g_autoptr(GPtrArray) bars = find_bars(tx, client);

    switch (g_rand_int_range(random, 0, 7)) {
    case 0:
        tx_append(tx, "client.set", client, "R. Okafor", NULL,
                  json_pack("{s:{s:s}}", "fields", "name", value));
        break;
    case 1:
        tx_append(tx, "client.set", client, "R. Okafor", NULL,
                  json_pack("{s:{s:s}}", "fields", "phone", "+447700900123"));
        break;
    case 2:
        tx_append(tx, "client.consent", client, "R. Okafor", NULL,
                  json_pack("{s:s, s:s, s:s, s:i}", "channel", "sms", "text", value, "by",
                            "R. Okafor", "at", 5));
        break;
    case 3:
        tx_append(tx, "hold.set", client, "R. Okafor", NULL,
                  json_pack("{s:i, s:s, s:s}", "at", 5, "why", value, "by", "R. Okafor"));
        break;
    case 4:
        if (bars->len > 0)
            tx_append(tx, "hold.lift", client, "R. Okafor", NULL,
                      json_pack("{s:[s], s:i}", "ends", row_text(bars->pdata[0], BAR_ID), "at", 6));
        break;
    case 5:
        tx_append(tx, "plan.set", client, "R. Okafor", NULL,
                  json_pack("{s:{s:[s,s]}}", "fields", "times", "08:30", value));
        break;
    default: expect_same(tx);
    }
}

typedef struct {
    GRand *random;
    bool kept;
} Storm;

static bool storm_job(Tx *tx, void *context)
{
    Storm *storm = context;
    int n = g_rand_int_range(storm->random, 1, 6);

    for (int i = 0; i < n; i++)
        put_something(tx, storm->random);
    if (g_rand_boolean(storm->random)) expect_same(tx);
    storm->kept = g_rand_int_range(storm->random, 0, 4) > 0;
    return storm->kept;
}

static void weather(BenchSort sort, int seeds)
{
    for (int seed = 1; seed <= seeds; seed++) {
        Bench *bench = bench_open(sort);
        Storm storm = {.random = g_rand_new_with_seed((guint32)seed)};

        print_message("seed %d\n", seed);
        for (int i = 0; i < 60; i++) {
            StoreStatus status = bench_do(bench, storm_job, &storm);
            assert_int_equal(status, storm.kept ? STORE_OK : STORE_UNDONE);
            assert_int_equal(bench_do(bench, compare_job, NULL), STORE_OK);
        }
        g_rand_free(storm.random);
        bench_close(bench);
    }
}

static void a_card_says_what_the_tables_say(void **state)
{
    (void)state;
    weather(BENCH_MEMORY, 20);
    weather(BENCH_SQLITE, 3);
}

static void a_card_on_a_server_too(void **state)
{
    (void)state;
    weather(BENCH_POSTGRES, 2);
}

static bool damage_job(Tx *tx, void *context)
{
    Row *card = row_new(TABLE_CARD);

    row_set_text(card, CARD_CLIENT, CLIENT[0]);
    row_set_text(card, CARD_TEXT, context);
    tx_put(tx, card);
    row_free(card);
    return true;
}

static bool hold_job(Tx *tx, void *context)
{
    (void)context;
    tx_append(tx, "client.set", CLIENT[0], "R. Okafor", NULL,
              json_pack("{s:{s:s}}", "fields", "name", "Ada N."));
    tx_append(tx, "hold.set", CLIENT[0], "R. Okafor", NULL,
              json_pack("{s:i, s:s}", "at", 5, "why", "pain 6"));
    return true;
}

/* A text that is cut, too long or no card at all is written anew from the tables. */
static void a_damaged_card_is_made_anew(void **state)
{
    static const char *const TEXTS[] = {
        "", "0:,", "0:,1:1", "0:,1:1,4:na", "99:,", "no card", "0:,1:1,4:name,8:\"Ada N.\"x"};
    Bench *bench = bench_open(BENCH_MEMORY);

    (void)state;
    assert_int_equal(bench_do(bench, hold_job, NULL), STORE_OK);
    for (size_t i = 0; i < G_N_ELEMENTS(TEXTS); i++) {
        assert_int_equal(bench_do(bench, damage_job, (void *)TEXTS[i]), STORE_OK);
        assert_int_equal(bench_do(bench, compare_job, NULL), STORE_OK);
    }
    bench_close(bench);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_card_says_what_the_tables_say),
        cmocka_unit_test(a_card_on_a_server_too),
        cmocka_unit_test(a_damaged_card_is_made_anew),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
