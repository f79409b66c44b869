/* SPDX-License-Identifier: Apache-2.0 */
/* A client is erased on a laptop: the box, which sends and keeps copies, forgets the same words and knows the number again. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <glib/gstdio.h>
#include <string.h>

#include "tests/support/json_look.h"
#include "tests/support/planted.h"
#include "tests/support/replicas.h"
#include "tests/support/rough_site.h"

static const char *const WORDS[] = {"Quillfeather", "+442079460041", NULL};

typedef struct {
    Site *box;
    Site *laptop;
    char *ada;
} Pair;

static Pair *pair_new(void)
{
    Pair *pair = g_new0(Pair, 1);
    int port = site_free_port();

    pair->box = replica_new("box", 11, port);
    pair->laptop = replica_new("laptop", 12, 0);
    site_replace(pair->box, "page: {", "backup: {at: \"03:00\"}\npage: {");
    assert_int_equal(site_start(pair->box, REPLICAS_MONDAY), 0);
    assert_int_equal(site_start(pair->laptop, REPLICAS_MONDAY), 0);
    replica_pair(pair->laptop, pair->box, port);
    pair->ada = replica_client(pair->box, "Ada Quillfeather", 41);
    replica_plan(pair->box, pair->ada);
    replica_visit(pair->laptop);
    return pair;
}

static void pair_end(Pair *pair)
{
    replicas_end(pair->box, pair->laptop);
    g_free(pair->ada);
    g_free(pair);
}

static void erase(Site *site, const char *client)
{
    json_decref(
        site_ask(site, "client erase %s --by 'R. Okafor' --why 'asked in writing'", client));
}

/* Paired before anybody was erased, by either. */
static void the_number_is_known_on_every_replica(void **state)
{
    Pair *pair = pair_new();
    Site *sites[] = {pair->box, pair->laptop};

    (void)state;
    g_autofree char *bea = replica_client(pair->box, "Bea R.", 42);
    replica_visit(pair->laptop);
    erase(pair->laptop, pair->ada);
    replica_visit(pair->laptop);
    erase(pair->box, bea);
    replica_visit(pair->laptop);
    for (size_t i = 0; i < G_N_ELEMENTS(sites); i++)
        for (int number = 41; number <= 42; number++)
            site_fails(sites[i], 77, "somebody who was erased",
                       "client add --name 'P. Q.' --channel sms --phone +4420794600%02d --consent "
                       "'sms: signed form, R. Okafor, 2026-03-01'",
                       number);
    pair_end(pair);
}

static void assert_no_word(Site *site)
{
    g_autofree char *found = planted_find(site->clinic, WORDS);

    if (found != NULL) fail_msg("%s", found);
}

/* A step of the clock ends once nothing is under way any more. */
static void copies_are_made(Site *site, const char *when)
{
    assert_true(site_clock(site, when));
}

/* What was written to the spool, what waits, and copies of two nights. */
static void no_file_of_the_box_holds_a_word(void **state)
{
    Pair *pair = pair_new();

    (void)state;
    assert_true(site_clock(pair->box, "2026-03-04T04:00:00Z"));
    assert_true(site_clock(pair->laptop, "2026-03-04T04:00:00Z"));
    replica_visit(pair->laptop);
    g_autofree char *before = planted_find(pair->box->clinic, WORDS);
    assert_non_null(before);
    erase(pair->laptop, pair->ada);
    replica_visit(pair->laptop);
    copies_are_made(pair->box, "2026-03-04T04:00:01Z");
    assert_int_equal(replica_count(pair->box, "client list"), 0);
    assert_no_word(pair->laptop);
    assert_no_word(pair->box);
    pair_end(pair);
}

/* A copy has the second in its name, and the first one's still holds the words about the second. */
static void two_erased_in_one_second_leave_no_copy_with_words(void **state)
{
    Pair *pair = pair_new();

    (void)state;
    g_autofree char *bea = replica_client(pair->box, "Bea R.", 42);
    assert_true(site_clock(pair->box, "2026-03-03T04:00:00Z"));
    erase(pair->box, bea);
    erase(pair->box, pair->ada);
    copies_are_made(pair->box, "2026-03-03T04:00:01Z");
    assert_no_word(pair->box);
    replica_visit(pair->laptop);
    pair_end(pair);
}

/* The power goes as soon as the erasure is confirmed. */
static void a_cut_right_after_the_erasure_leaves_no_copy_with_words(void **state)
{
    Pair *pair = pair_new();

    (void)state;
    assert_true(site_clock(pair->box, "2026-03-04T04:00:00Z"));
    erase(pair->box, pair->ada);
    site_kill(pair->box);
    assert_int_equal(site_start(pair->box, "2026-03-04T04:00:00Z"), 0);
    copies_are_made(pair->box, "2026-03-04T04:00:01Z");
    assert_no_word(pair->box);
    replica_visit(pair->laptop);
    pair_end(pair);
}

/* The box's store is replaced by a copy from before the erasure, of which it only heard. */
static void an_erasure_that_was_heard_of_is_made_again(void **state)
{
    Pair *pair = pair_new();
    g_autofree char *store = g_build_filename(pair->box->clinic, "store.db", NULL);
    g_autofree char *copy = g_build_filename(pair->box->root, "copy.db", NULL);

    (void)state;
    json_decref(site_ask(pair->box, "backup %s", copy));
    erase(pair->laptop, pair->ada);
    replica_visit(pair->laptop);
    site_stop(pair->box);
    assert_int_equal(g_rename(copy, store), 0);
    assert_int_equal(site_start(pair->box, REPLICAS_MONDAY), 0);
    site_fails(pair->box, 66, "client", "client show %s", pair->ada);
    assert_no_word(pair->box);
    pair_end(pair);
}

/* The laptop, which has not heard of the erasure, puts down a new number: its words go, and it is known again all the same, also
 * after the box's store was replaced by an old copy. */
static void a_number_that_comes_after_the_erasure_is_known_too(void **state)
{
    Pair *pair = pair_new();
    g_autofree char *store = g_build_filename(pair->box->clinic, "store.db", NULL);
    g_autofree char *copy = g_build_filename(pair->box->root, "copy.db", NULL);

    (void)state;
    json_decref(site_ask(pair->box, "backup %s", copy));
    erase(pair->box, pair->ada);
    json_decref(site_ask(pair->laptop, "client set %s --phone +442079460043", pair->ada));
    replica_visit(pair->laptop);
    for (int i = 0; i < 2; i++) {
        for (int number = 41; number <= 43; number += 2)
            site_fails(i == 0 ? pair->box : pair->laptop, 77, "somebody who was erased",
                       "client add --name 'P. Q.' --channel sms --phone +4420794600%02d", number);
    }
    assert_no_word(pair->box);
    site_stop(pair->box);
    assert_int_equal(g_rename(copy, store), 0);
    assert_int_equal(site_start(pair->box, REPLICAS_MONDAY), 0);
    site_fails(pair->box, 77, "somebody who was erased",
               "client add --name 'P. Q.' --channel sms --phone +442079460043");
    pair_end(pair);
}

/* Messages that went out to the client, not those to the clinic about them. */
static int told(Site *site, const char *client)
{
    json_t *messages = site_ask(site, "messages --client %s", client), *message;
    int n = 0;
    size_t i;

    json_array_foreach(messages, i, message)
    {
        const char *kind = json_string_value(json_object_get(message, "kind"));
        const char *fate = json_string_value(json_object_get(message, "fate"));
        n += strcmp(kind, "alert") != 0 && strcmp(fate, "lapsed") != 0;
    }
    json_decref(messages);
    return n;
}

/* Entered on a laptop that had not heard of the erasure: nothing goes to that number, and a clinician hears of it, once. */
static void who_was_entered_apart_with_the_number_is_told_of(void **state)
{
    Pair *pair = pair_new();

    (void)state;
    erase(pair->box, pair->ada);
    g_autofree char *again = replica_client(pair->laptop, "P. Quince", 41);
    replica_plan(pair->laptop, again);
    replica_visit(pair->laptop);
    for (int day = 3; day <= 5; day++) {
        g_autofree char *evening = g_strdup_printf("2026-03-%02dT20:00:00Z", day);
        assert_true(site_clock(pair->box, evening));
    }
    json_t *alerts = site_ask(pair->box, "alerts --all");
    look_json(alerts, "[{\"kind\":\"undeliverable\"}]");
    assert_int_equal(json_array_size(alerts), 1);
    json_decref(alerts);
    assert_int_equal(told(pair->box, again), 0);
    json_decref(
        site_ask(pair->box, "client set %s --returned 'asked her on the telephone'", again));
    assert_true(site_clock(pair->box, "2026-03-06T20:00:00Z"));
    assert_true(told(pair->box, again) > 0);
    pair_end(pair);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_number_is_known_on_every_replica),
        cmocka_unit_test(no_file_of_the_box_holds_a_word),
        cmocka_unit_test(two_erased_in_one_second_leave_no_copy_with_words),
        cmocka_unit_test(a_cut_right_after_the_erasure_leaves_no_copy_with_words),
        cmocka_unit_test(an_erasure_that_was_heard_of_is_made_again),
        cmocka_unit_test(a_number_that_comes_after_the_erasure_is_known_too),
        cmocka_unit_test(who_was_entered_apart_with_the_number_is_told_of),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
