/* SPDX-License-Identifier: Apache-2.0 */
/* A client is erased: the words are in no file any more, the ledger still holds, and nobody writes to the number again. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <glib/gstdio.h>
#include <string.h>

#include "adapters/store/store_sqlite.h"
#include "tests/support/json_look.h"
#include "tests/support/planted.h"
#include "tests/support/settings.h"
#include "tests/support/site.h"

static const char *const WORDS[] = {"Peregrine Quillfeather", "marmaladeknee",  "zinniahip",
                                    "+447700900417",          "tangerineaisle", NULL};

static Site *site_with(const char *clinic)
{
    Site *site = site_new();
    g_autofree char *settings = settings_plain("Withy Lane", clinic, "backup: {at: \"03:00\"}\n");

    site_settings(site, settings);
    return site;
}

static char *add(Site *site, const char *name, const char *phone)
{
    json_t *made = site_ask(site,
                            "client add --name '%s' --zone Europe/London --channel sms --phone %s "
                            "--needs '%s, speak up' --consent 'sms: signed form, "
                            "R. Okafor, 2026-03-01'",
                            name, phone, strcmp(name, WORDS[0]) == 0 ? WORDS[1] : "loud");
    char *id = g_strdup(json_string_value(json_object_get(made, "client")));

    json_decref(made);
    return id;
}

static void ask(Site *site, const char *words, const char *id)
{
    g_autofree char *filled = g_strdup_printf("%s", words);
    g_auto(GStrv) halves = g_strsplit(filled, "@", 2);

    json_decref(site_ask(site, "%s%s%s", halves[0], id, halves[1] != NULL ? halves[1] : ""));
}

/* A fortnight with words in every place that has any. */
static char *live(Site *site)
{
    char *id = add(site, WORDS[0], WORDS[3]);

    g_free(add(site, "Ada N.", "+447700900418"));
    ask(site, "screen @ --by 'R. Okafor' --floor yes --finding 'zinniahip, 2019'", id);
    ask(site,
        "plan set @ --programme calf-and-hamstring --at 08:30,18:30 --stage calf-with-strap "
        "--angle-deg 62 --felt thigh",
        id);
    for (int day = 3; day < 12; day++) {
        g_autofree char *to = g_strdup_printf("2026-03-%02dT20:00:00Z", day);
        assert_true(site_clock(site, to));
        g_autofree char *words = g_strdup_printf(
            "report @ --date 2026-03-%02d --slot 1 --words 'did them in the tangerineaisle, pain "
            "0, a 4' --by 'R. Okafor'",
            day);
        ask(site, words, id);
    }
    return id;
}

static void open_and_close_an_alert(Site *site, const char *id)
{
    json_t *alert = site_ask(
        site, "alert open %s --kind fall --words 'slipped on marmaladeknee' --by 'R. Okafor'", id);
    g_autofree char *code = g_strdup(json_string_value(json_object_get(alert, "alert")));

    json_decref(alert);
    site_fails(site, 77, "close it first",
               "client erase %s --by 'R. Okafor' --why 'asked in writing'", id);
    json_decref(site_ask(
        site, "alert close %s --outcome resume --by 'R. Okafor' --note 'zinniahip is well'", code));
}

static void check_sound(Site *site, int *events)
{
    g_autofree char *path = g_build_filename(site->clinic, "store.db", NULL);
    g_autoptr(GPtrArray) findings = g_ptr_array_new_with_free_func(g_free);
    g_autofree char *why = NULL;
    int64_t n = 0;

    if (store_sqlite_check(path, false, findings, &n, &why) != OPEN_OK) fail_msg("%s", why);
    if (findings->len > 0) fail_msg("%s", (char *)findings->pdata[0]);
    *events = (int)n;
}

static void check_no_word(Site *site)
{
    g_autofree char *found = planted_find(site->clinic, WORDS);

    if (found != NULL) fail_msg("%s", found);
}

static void no_file_holds_a_word_of_an_erased_client(void **state)
{
    Site *site = site_with("");
    int events = 0;

    (void)state;
    assert_int_equal(site_start(site, "2026-03-02T09:00:00Z"), 0);
    g_autofree char *id = live(site);
    g_autofree char *before = planted_find(site->clinic, WORDS);
    assert_non_null(before);
    open_and_close_an_alert(site, id);
    site_fails(site, 77, "duty list", "client erase %s --by 'P. Lowther' --why 'asked'", id);
    /* the reason stays for good, everywhere */
    site_fails(site, 77, "without a name",
               "client erase %s --by 'R. Okafor' --why 'asked in writing by %s'", id, WORDS[0]);
    site_fails(site, 64, "why", "client erase %s --by 'R. Okafor'", id);
    json_t *summary = site_ask(site, "client summary %s", id);
    look_is(summary, "name", WORDS[0]);
    json_decref(summary);
    json_t *erased =
        site_ask(site, "client erase %s --by 'R. Okafor' --why 'asked in writing'", id);
    look_is(json_object_get(erased, "summary"), "name", WORDS[0]);
    json_decref(erased);
    site_fails(site, 66, "client", "client show %s", id);
    json_decref(site_ask(site, "status"));
    check_no_word(site);
    site_kill(site);
    check_no_word(site);
    check_sound(site, &events);
    assert_true(events > 20);
    assert_int_equal(site_start(site, "2026-03-12T20:00:00Z"), 0);
    assert_true(site_clock(site, "2026-03-20T20:00:00Z"));
    check_no_word(site);
    site_free(site);
}

static void the_number_is_not_written_to_again(void **state)
{
    Site *site = site_with("");

    (void)state;
    assert_int_equal(site_start(site, "2026-03-02T09:00:00Z"), 0);
    g_autofree char *id = add(site, WORDS[0], WORDS[3]);
    json_decref(site_ask(site, "client erase %s --by 'R. Okafor' --why 'asked in writing'", id));
    site_fails(site, 77, "erased",
               "client add --name 'P. Q.' --channel sms --phone %s --consent 'sms: signed form, R. "
               "Okafor, 2026-03-01'",
               WORDS[3]);
    json_decref(site_ask(site,
                         "client add --name 'P. Q.' --channel sms --phone %s --returned 'signed a "
                         "new form' --consent 'sms: signed form, R. Okafor, 2026-03-02'",
                         WORDS[3]));
    site_free(site);
}

/* Old lists of clients hold old numbers. */
static void a_number_that_the_client_had_before_is_not_written_to_either(void **state)
{
    static const char *const ADDRESSES[] = {"+447700900417", "+447700900420", "+447700900421",
                                            "ada@home.example", "ada@work.example"};
    Site *site = site_with("");

    (void)state;
    assert_int_equal(site_start(site, "2026-03-02T09:00:00Z"), 0);
    g_autofree char *id = add(site, WORDS[0], ADDRESSES[0]);
    for (int i = 1; i < 5; i++) {
        g_autofree char *words =
            g_strdup_printf("client set @ --%s %s", i < 3 ? "phone" : "email", ADDRESSES[i]);
        ask(site, words, id);
    }
    ask(site, "client erase @ --by 'R. Okafor' --why 'asked in writing'", id);
    for (int i = 0; i < 5; i++)
        site_fails(site, 77, "somebody who was erased",
                   "client add --name 'P. Q.' --channel %s --%s %s", i < 3 ? "sms" : "email",
                   i < 3 ? "phone" : "email", ADDRESSES[i]);
    check_no_word(site);
    site_free(site);
}

static void records_are_kept_as_long_as_the_clinic_says(void **state)
{
    Site *site = site_with("  keep_records_years: 8\n");

    (void)state;
    assert_int_equal(site_start(site, "2026-03-02T09:00:00Z"), 0);
    g_autofree char *id = add(site, WORDS[0], WORDS[3]);
    site_fails(site, 77, "2034-03-02", "client erase %s --by 'R. Okafor' --why 'asked'", id);
    json_decref(
        site_ask(site, "client erase %s --by 'R. Okafor' --why 'early: a court order'", id));
    site_free(site);
}

/* The store is replaced by a copy from before the erasure. */
static void an_old_copy_is_erased_again_before_use(void **state)
{
    Site *site = site_with("");
    g_autofree char *store = g_build_filename(site->clinic, "store.db", NULL);
    g_autofree char *copy = g_build_filename(site->root, "copy.db", NULL);

    (void)state;
    assert_int_equal(site_start(site, "2026-03-02T09:00:00Z"), 0);
    g_autofree char *id = live(site);
    json_decref(site_ask(site, "backup %s", copy));
    json_decref(site_ask(site, "client erase %s --by 'R. Okafor' --why 'asked in writing'", id));
    site_stop(site);
    assert_int_equal(g_rename(copy, store), 0);
    assert_int_equal(site_start(site, "2026-03-12T09:00:00Z"), 0);
    site_fails(site, 66, "client", "client show %s", id);
    check_no_word(site);
    site_free(site);
}

static int count(Site *site, const char *words)
{
    json_t *list = site_ask(site, "%s", words);
    int n = (int)json_array_size(list);

    json_decref(list);
    return n;
}

/* Names that stand in many a word, and beside another client's in that one's own record. */
static void what_is_another_clients_stays(void **state)
{
    static const char *const SHORT[] = {"Al", "%", "N"};
    Site *site = site_with("");

    (void)state;
    assert_int_equal(site_start(site, "2026-03-02T09:00:00Z"), 0);
    g_autofree char *id = add(site, "Ada N.", "+447700900418");
    json_decref(site_ask(site,
                         "alert open %s --kind fall --words 'a fall in the hall, says Al, and N' "
                         "--by 'R. Okafor'",
                         id));
    for (size_t i = 0; i < G_N_ELEMENTS(SHORT); i++) {
        g_autofree char *phone = g_strdup_printf("+44770090042%zu", i);
        g_autofree char *named = add(site, SHORT[i], phone);
        json_decref(site_ask(site, "client erase %s --by 'R. Okafor' --why 'asked'", named));
        assert_int_equal(count(site, "alerts"), 1);
        site_fails(site, 66, "client", "client show %s", named);
    }
    site_free(site);
}

/* A couple with one telephone: who goes on is asked as before. The number is kept out once both are erased. */
static void who_shares_the_number_is_written_to_all_the_same(void **state)
{
    Site *site = site_with("");

    (void)state;
    assert_int_equal(site_start(site, "2026-03-02T09:00:00Z"), 0);
    g_autofree char *id = add(site, WORDS[0], WORDS[3]);
    g_autofree char *other = add(site, "Bert N.", WORDS[3]);
    ask(site, "screen @ --by 'R. Okafor' --floor yes --clear", other);
    ask(site, "plan set @ --programme calf-and-hamstring --at 08:30", other);
    ask(site, "client erase @ --by 'R. Okafor' --why 'asked in writing'", id);
    assert_true(site_clock(site, "2026-03-03T12:00:00Z"));
    json_t *messages = site_ask(site, "messages --client %s", other);
    assert_int_equal(look_count(messages, "kind", "reminder"), 1);
    json_decref(messages);
    ask(site, "client erase @ --by 'R. Okafor' --why 'asked as well'", other);
    site_fails(site, 77, "somebody who was erased",
               "client add --name 'P. Q.' --channel sms --phone %s", WORDS[3]);
    site_free(site);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(no_file_holds_a_word_of_an_erased_client),
        cmocka_unit_test(the_number_is_not_written_to_again),
        cmocka_unit_test(a_number_that_the_client_had_before_is_not_written_to_either),
        cmocka_unit_test(records_are_kept_as_long_as_the_clinic_says),
        cmocka_unit_test(what_is_another_clients_stays),
        cmocka_unit_test(who_shares_the_number_is_written_to_all_the_same),
        cmocka_unit_test(an_old_copy_is_erased_again_before_use),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
