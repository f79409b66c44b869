/* SPDX-License-Identifier: Apache-2.0 */
/* A client whom two people entered while their replicas were apart, on real osierds: told to be one, nobody is asked twice and nothing
 * that protects the client is lost. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "tests/support/json_look.h"
#include "tests/support/replicas.h"

#define NOON "2026-03-02T12:00:00Z"

typedef struct {
    Site *box;
    Site *laptop;
    char *there; /* the client's id on the box, and the one on the laptop */
    char *here;
} Twice;

/* Both entered her, with a plan each, while they were apart. */
static Twice *twice_new(void)
{
    Twice *twice = g_new0(Twice, 1);
    int port = site_free_port();

    twice->box = replica_new("box", 11, port);
    twice->laptop = replica_new("laptop", 12, 0);
    assert_int_equal(site_start(twice->box, REPLICAS_MONDAY), 0);
    assert_int_equal(site_start(twice->laptop, REPLICAS_MONDAY), 0);
    replica_pair(twice->laptop, twice->box, port);
    twice->there = replica_client(twice->box, "Ada N.", 1);
    twice->here = replica_client(twice->laptop, "Ada Nn.", 2);
    replica_plan(twice->box, twice->there);
    replica_plan(twice->laptop, twice->here);
    return twice;
}

static void twice_free(Twice *twice)
{
    site_free(twice->box);
    site_free(twice->laptop);
    g_free(twice->there);
    g_free(twice->here);
    g_free(twice);
}

static void join(Twice *twice, Site *on)
{
    json_t *told =
        site_ask(on, "client same %s --as %s --by 'R. Okafor'", twice->here, twice->there);

    assert_int_equal(json_array_size(json_object_get(told, "also")), 1);
    json_decref(told);
    replica_visit(twice->laptop);
}

static int count(Site *site, const char *kind)
{
    json_t *messages = site_ask(site, "messages");
    int n = look_count(messages, "kind", kind);

    json_decref(messages);
    return n;
}

static void assert_standing(Site *site, const char *id, const char *standing)
{
    json_t *client = site_ask(site, "client show %s", id);

    look_is(client, "standing", standing);
    json_decref(client);
}

static void one_client_is_asked_once_and_either_id_names_her(void **state)
{
    Twice *twice = twice_new();

    (void)state;
    replica_visit(twice->laptop);
    assert_int_equal(replica_count(twice->box, "client list"), 2);
    join(twice, twice->laptop);
    replicas_alike(twice->box, twice->laptop, "client list");
    assert_int_equal(replica_count(twice->box, "client list"), 1);
    assert_standing(twice->box, twice->here, "active");
    assert_standing(twice->box, twice->there, "active");
    assert_true(site_clock(twice->box, NOON));
    assert_int_equal(count(twice->box, "reminder"), 1);
    assert_true(replica_count(twice->box, "sync conflicts") >= 2); /* name and phone */
    replica_visit(twice->laptop);
    replicas_alike(twice->box, twice->laptop, "messages");
    twice_free(twice);
}

/* The duplicate's pause is known on the laptop alone when the box hears that the two are one. */
static void a_pause_under_one_id_keeps_reminders_from_both(void **state)
{
    Twice *twice = twice_new();

    (void)state;
    json_decref(
        site_ask(twice->laptop, "client pause %s --until 2026-03-20 --why illness", twice->here));
    replica_visit(twice->laptop);
    join(twice, twice->box);
    assert_standing(twice->box, twice->there, "paused");
    assert_true(site_clock(twice->box, NOON));
    assert_int_equal(count(twice->box, "reminder"), 0);
    json_decref(site_ask(twice->box, "client resume %s", twice->here));
    assert_standing(twice->box, twice->there, "active");
    twice_free(twice);
}

/* What was asked of her before anybody knew is not asked again under the other id. */
static void a_session_asked_under_one_id_is_not_asked_under_the_other(void **state)
{
    Twice *twice = twice_new();

    (void)state;
    assert_true(site_clock(twice->box, NOON)); /* asked at 10:30 */
    assert_int_equal(count(twice->box, "reminder"), 1);
    replica_visit(twice->laptop);
    join(twice, twice->laptop);
    assert_true(site_clock(twice->box, "2026-03-02T20:00:00Z"));
    assert_int_equal(count(twice->box, "reminder"), 1);
    assert_true(site_clock(twice->box, "2026-03-03T12:00:00Z"));
    assert_int_equal(count(twice->box, "reminder"), 2);
    twice_free(twice);
}

/* The laptop goes on under the id that it knows, and does not know yet that there is another. */
static void who_has_not_heard_of_it_goes_on_under_the_old_id(void **state)
{
    Twice *twice = twice_new();

    (void)state;
    replica_visit(twice->laptop);
    json_decref(
        site_ask(twice->box, "client same %s --as %s --by 'R. Okafor'", twice->here, twice->there));
    json_decref(
        site_ask(twice->laptop, "client pause %s --until 2026-03-20 --why away", twice->here));
    replica_visit(twice->laptop);
    assert_standing(twice->box, twice->there, "paused");
    replicas_alike(twice->box, twice->laptop, "client list");
    assert_true(site_clock(twice->box, NOON));
    assert_int_equal(count(twice->box, "reminder"), 0);
    twice_free(twice);
}

static void who_is_erased_under_one_id_is_erased_under_the_other(void **state)
{
    Twice *twice = twice_new();

    (void)state;
    replica_visit(twice->laptop);
    json_decref(site_ask(twice->laptop, "client same %s --as %s --by 'R. Okafor'", twice->here,
                         twice->there));
    json_decref(site_ask(twice->box, "client erase %s --by 'R. Okafor' --why 'early: asked'",
                         twice->there));
    replica_visit(twice->laptop);
    replica_visit(twice->laptop);
    assert_int_equal(replica_count(twice->box, "client list"), 0);
    assert_int_equal(replica_count(twice->laptop, "client list"), 0);
    site_fails(twice->box, 66, "there is none of that id", "client show %s", twice->here);
    for (int i = 0; i < 2; i++) {
        Site *site = i == 0 ? twice->box : twice->laptop;
        for (int number = 1; number <= 2; number++)
            site_fails(site, 77, "somebody who was erased",
                       "client add --name 'P. Q.' --channel sms --phone +4420794600%02d", number);
        assert_int_equal(site_stop(site), 0);
        json_decref(site_ask(site, "check"));
    }
    twice_free(twice);
}

static void it_needs_two_clients_and_somebody_who_says_so(void **state)
{
    Twice *twice = twice_new();

    (void)state;
    site_fails(twice->box, 64, "--as ID", "client same %s --by 'R. Okafor'", twice->there);
    site_fails(twice->box, 66, "no client of that id", "client same %s --as ZZZZZ --by 'R. Okafor'",
               twice->there);
    site_fails(twice->box, 65, "is that client already", "client same %s --as %s --by 'R. Okafor'",
               twice->there, twice->there);
    twice_free(twice);
}

/* What was entered at once differs in name and phone: whoever settles the one has not settled the other. */
static void each_field_is_settled_by_itself(void **state)
{
    Twice *twice = twice_new();

    (void)state;
    replica_visit(twice->laptop);
    join(twice, twice->laptop);
    json_t *before = site_ask(twice->box, "sync conflicts");
    g_autofree char *id = look_copy(look_only(before, "field", "name"), "conflict");
    look_is(look_only(before, "field", "phone"), "conflict", id);
    site_fails(twice->box, 66, "--field", "sync settle %s --take other --by 'R. Okafor'", id);
    json_decref(
        site_ask(twice->box, "sync settle %s --field name --take other --by 'R. Okafor'", id));
    json_t *after = site_ask(twice->box, "sync conflicts");
    assert_int_equal(json_array_size(after), json_array_size(before) - 1);
    assert_int_equal(look_count(after, "field", "name"), 0);
    assert_int_equal(look_count(after, "field", "phone"), 1);
    json_decref(before);
    json_decref(after);
    twice_free(twice);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_client_is_asked_once_and_either_id_names_her),
        cmocka_unit_test(a_pause_under_one_id_keeps_reminders_from_both),
        cmocka_unit_test(a_session_asked_under_one_id_is_not_asked_under_the_other),
        cmocka_unit_test(who_has_not_heard_of_it_goes_on_under_the_old_id),
        cmocka_unit_test(who_is_erased_under_one_id_is_erased_under_the_other),
        cmocka_unit_test(each_field_is_settled_by_itself),
        cmocka_unit_test(it_needs_two_clients_and_somebody_who_says_so),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
