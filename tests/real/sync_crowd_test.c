/* SPDX-License-Identifier: Apache-2.0 */
/* Three replicas, laptop - box - laptop, and what goes wrong between them. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "tests/support/json_look.h"
#include "tests/support/planted.h"
#include "tests/support/replicas.h"

typedef struct {
    Site *box;
    Site *one;
    Site *two;
    int port;
} Crowd;

static Crowd *crowd_new(void)
{
    Crowd *crowd = g_new0(Crowd, 1);

    crowd->port = site_free_port();
    crowd->box = replica_new("box", 11, crowd->port);
    crowd->one = replica_new("one", 12, 0);
    crowd->two = replica_new("two", 13, 0);
    assert_int_equal(site_start(crowd->box, REPLICAS_MONDAY), 0);
    assert_int_equal(site_start(crowd->one, REPLICAS_MONDAY), 0);
    assert_int_equal(site_start(crowd->two, REPLICAS_MONDAY), 0);
    replica_pair(crowd->one, crowd->box, crowd->port);
    replica_pair(crowd->two, crowd->box, crowd->port);
    return crowd;
}

static void crowd_free(Crowd *crowd)
{
    site_free(crowd->box);
    site_free(crowd->one);
    site_free(crowd->two);
    g_free(crowd);
}

/* What each has goes to both others. */
static void meet(Crowd *crowd)
{
    replica_visit(crowd->one);
    replica_visit(crowd->two);
    replica_visit(crowd->one);
}

static void two_took_the_duty_and_the_one_that_keeps_it_says_so(void **state)
{
    Crowd *crowd = crowd_new();

    (void)state;
    g_autofree char *client = replica_client(crowd->one, "Ada N.", 1);
    meet(crowd);
    replicas_alike(crowd->one, crowd->two, "client list");
    json_decref(site_ask(crowd->one, "sender take --by 'R. Okafor'"));
    assert_true(site_clock(crowd->two, "2026-03-02T09:01:00Z"));
    json_decref(site_ask(crowd->two, "sender take --by 'R. Okafor'"));
    meet(crowd);
    meet(crowd);
    replicas_alike(crowd->one, crowd->two, "alerts");
    json_t *alerts = site_ask(crowd->one, "alerts");
    assert_int_equal(look_count(alerts, "kind", "two-senders"), 1);
    json_decref(alerts);
    json_t *first = site_ask(crowd->one, "sender show"),
           *second = site_ask(crowd->two, "sender show");
    assert_false(json_is_true(json_object_get(first, "here")));
    assert_true(json_is_true(json_object_get(second, "here")));
    json_decref(first);
    json_decref(second);
    crowd_free(crowd);
}

static void who_did_not_hear_that_the_duty_went_over_sent_on(void **state)
{
    Crowd *crowd = crowd_new();

    (void)state;
    g_autofree char *client = replica_client(crowd->box, "Ada N.", 1);
    replica_plan(crowd->box, client);
    meet(crowd);
    json_decref(site_ask(crowd->one, "sender take --by 'R. Okafor'"));
    assert_true(site_clock(crowd->box, "2026-03-03T12:00:00Z")); /* nobody has visited: it sends */
    assert_true(site_clock(crowd->one, "2026-03-03T12:00:00Z"));
    assert_true(site_clock(crowd->two, "2026-03-03T12:00:00Z"));
    meet(crowd);
    json_t *alerts = site_ask(crowd->one, "alerts");
    assert_int_equal(look_count(alerts, "kind", "two-senders"), 1);
    json_decref(alerts);
    json_t *box = site_ask(crowd->box, "sender show");
    assert_false(json_is_true(json_object_get(box, "here")));
    json_decref(box);
    crowd_free(crowd);
}

static void a_duty_that_all_heard_of_is_no_matter(void **state)
{
    Crowd *crowd = crowd_new();

    (void)state;
    g_autofree char *client = replica_client(crowd->box, "Ada N.", 1);
    replica_plan(crowd->box, client);
    meet(crowd);
    json_decref(site_ask(crowd->one, "sender take --by 'R. Okafor'"));
    meet(crowd);
    assert_true(site_clock(crowd->one, "2026-03-03T12:00:00Z"));
    assert_true(site_clock(crowd->two, "2026-03-03T12:00:00Z"));
    assert_true(site_clock(crowd->box, "2026-03-03T12:00:00Z"));
    meet(crowd);
    json_t *alerts = site_ask(crowd->one, "alerts");
    assert_int_equal(look_count(alerts, "kind", "two-senders"), 0);
    json_decref(alerts);
    crowd_free(crowd);
}

static void who_is_erased_is_gone_from_every_file_of_every_replica(void **state)
{
    static const char *const WORDS[] = {"Quillfeather", "marmalade", NULL};
    Crowd *crowd = crowd_new();

    (void)state;
    g_autofree char *client = replica_client(crowd->one, "Ada Quillfeather", 1);
    meet(crowd);
    json_decref(
        site_ask(crowd->box, "client erase %s --by 'R. Okafor' --why 'early: she asked'", client));
    json_decref(site_ask(crowd->two, "client set %s --needs 'likes marmalade'", client));
    json_decref(site_ask(crowd->one, "client set %s --needs 'more marmalade'", client));
    meet(crowd);
    meet(crowd);
    Site *const SITES[] = {crowd->box, crowd->one, crowd->two};
    for (size_t i = 0; i < G_N_ELEMENTS(SITES); i++) {
        g_autofree char *found = planted_find(SITES[i]->clinic, WORDS);
        if (found != NULL) fail_msg("replica %zu: %s", i, found);
        assert_int_equal(site_stop(SITES[i]), 0);
        json_decref(site_ask(SITES[i], "check --rebuild"));
    }
    crowd_free(crowd);
}

static void a_bundle_made_before_the_first_was_taken_in_comes_first(void **state)
{
    Crowd *crowd = crowd_new();
    g_autofree char *first = g_build_filename(crowd->box->root, "first.osier", NULL);
    g_autofree char *second = g_build_filename(crowd->box->root, "second.osier", NULL);
    g_autofree char *all = g_build_filename(crowd->box->root, "all.osier", NULL);

    (void)state;
    g_autofree char *ada = replica_client(crowd->box, "Ada N.", 1);
    json_decref(site_ask(crowd->box, "sync export one %s", first));
    g_autofree char *bo = replica_client(crowd->box, "Bo T.", 2);
    json_decref(site_ask(crowd->box, "sync export one %s", second));
    json_decref(site_ask(crowd->box, "sync export one %s --all", all));
    json_decref(site_ask(crowd->one, "sync import %s", second));
    assert_int_equal(replica_count(crowd->one, "client list"), 2);
    json_t *late = site_ask(crowd->one, "sync import %s", first);
    assert_int_equal(json_integer_value(json_object_get(late, "new")), 0);
    json_decref(late);
    json_decref(site_ask(crowd->one, "sync import %s", all));
    site_fails(crowd->two, 65, "", "sync import %s", all);
    replicas_alike(crowd->box, crowd->one, "client list");
    json_decref(site_ask(crowd->one, "sync unpair box"));
    site_fails(crowd->one, 65, "not paired", "sync import %s", all);
    crowd_free(crowd);
}

/* Killed at any moment, a laptop comes back with its keys and gets the rest. */
static void a_laptop_killed_in_the_middle_of_a_visit_gets_the_rest(void **state)
{
    Crowd *crowd = crowd_new();

    (void)state;
    for (int i = 0; i < 4; i++) {
        g_autofree char *name = g_strdup_printf("Ada %c.", 'A' + i);
        g_autofree char *client = replica_client(crowd->box, name, i);
        replica_plan(crowd->box, client);
        site_kill(crowd->one);
        assert_int_equal(site_start(crowd->one, REPLICAS_MONDAY), 0); /* visits at once */
    }
    site_kill(crowd->one);
    site_kill(crowd->box);
    assert_int_equal(site_start(crowd->box, REPLICAS_MONDAY), 0);
    assert_int_equal(site_start(crowd->one, REPLICAS_MONDAY), 0);
    meet(crowd);
    replicas_alike(crowd->box, crowd->one, "client list");
    replicas_alike(crowd->box, crowd->two, "client list");
    assert_int_equal(replica_count(crowd->two, "client list"), 4);
    assert_int_equal(site_stop(crowd->one), 0);
    json_decref(site_ask(crowd->one, "check --rebuild"));
    crowd_free(crowd);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(two_took_the_duty_and_the_one_that_keeps_it_says_so),
        cmocka_unit_test(who_did_not_hear_that_the_duty_went_over_sent_on),
        cmocka_unit_test(a_duty_that_all_heard_of_is_no_matter),
        cmocka_unit_test(who_is_erased_is_gone_from_every_file_of_every_replica),
        cmocka_unit_test(a_bundle_made_before_the_first_was_taken_in_comes_first),
        cmocka_unit_test(a_laptop_killed_in_the_middle_of_a_visit_gets_the_rest),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
