/* SPDX-License-Identifier: Apache-2.0 */
/* Real replicas on the loopback, each with its own folder, store and keys: paired by a code, they agree. Their clocks stand still;
 * "sync now" visits and answers when the visit is over. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <glib/gstdio.h>
#include <string.h>

#include "tests/support/json_look.h"
#include "tests/support/replicas.h"

#define MONDAY REPLICAS_MONDAY

typedef struct {
    Site *box;
    Site *laptop;
    int port;
} Pair;

/* Two replicas, not yet paired. */
static Pair *pair_new(void)
{
    Pair *pair = g_new0(Pair, 1);

    pair->port = site_free_port();
    pair->box = replica_new("box", 11, pair->port);
    pair->laptop = replica_new("laptop", 12, 0);
    assert_int_equal(site_start(pair->box, MONDAY), 0);
    assert_int_equal(site_start(pair->laptop, MONDAY), 0);
    return pair;
}

static void pair_free(Pair *pair)
{
    site_free(pair->box);
    site_free(pair->laptop);
    g_free(pair);
}

static void a_laptops_new_client_is_welcomed_and_reminded_by_the_box(void **state)
{
    Pair *pair = pair_new();

    (void)state;
    replica_pair(pair->laptop, pair->box, pair->port);
    g_autofree char *client = replica_client(pair->laptop, "Ada N.", 1);
    replica_plan(pair->laptop, client);
    assert_int_equal(replica_count(pair->laptop, "messages"), 0);
    replica_visit(pair->laptop);
    replicas_alike(pair->box, pair->laptop, "client list");
    assert_true(site_clock(pair->box, "2026-03-02T12:00:00Z"));
    json_t *messages = site_ask(pair->box, "messages");
    assert_int_equal(look_count(messages, "kind", "welcome"), 1);
    assert_int_equal(look_count(messages, "kind", "reminder"), 1);
    json_decref(messages);
    assert_true(site_clock(pair->laptop, "2026-03-02T12:00:00Z"));
    replica_visit(pair->laptop);
    replicas_alike(pair->box, pair->laptop, "messages");
    json_t *sender = site_ask(pair->laptop, "sender show");
    assert_false(json_is_true(json_object_get(sender, "here")));
    look_is(sender, "name", "box");
    json_decref(sender);
    pair_free(pair);
}

static void an_alert_opened_in_a_village_hall_is_passed_on_by_the_box(void **state)
{
    Pair *pair = pair_new();

    (void)state;
    replica_pair(pair->laptop, pair->box, pair->port);
    g_autofree char *client = replica_client(pair->box, "Ada N.", 1);
    replica_visit(pair->laptop);
    json_decref(site_ask(
        pair->laptop, "alert open %s --kind fall --words 'fell at home' --by 'R. Okafor'", client));
    assert_int_equal(replica_count(pair->laptop, "alerts"), 1);
    replica_visit(pair->laptop);
    assert_true(site_clock(pair->box, "2026-03-02T09:01:00Z"));
    json_t *messages = site_ask(pair->box, "messages");
    assert_int_equal(look_count(messages, "kind", "alert"), 1);
    json_decref(messages);
    pair_free(pair);
}

static void two_people_set_one_field_unseen_and_a_third_decides(void **state)
{
    Pair *pair = pair_new();

    (void)state;
    replica_pair(pair->laptop, pair->box, pair->port);
    g_autofree char *client = replica_client(pair->box, "Ada N.", 1);
    replica_visit(pair->laptop);
    assert_true(site_clock(pair->laptop, "2026-03-02T09:02:00Z"));
    json_decref(site_ask(pair->box, "client set %s --needs 'large print'", client));
    json_decref(site_ask(pair->laptop, "client set %s --needs 'rings only'", client));
    replica_visit(pair->laptop);
    replicas_alike(pair->box, pair->laptop, "sync conflicts");
    json_t *list = site_ask(pair->box, "sync conflicts");
    assert_int_equal(json_array_size(list), 1);
    json_t *conflict = json_array_get(list, 0);
    look_is(json_object_get(conflict, "counts"), "value", "rings only");
    look_is(json_object_get(conflict, "other"), "value", "large print");
    g_autofree char *id = look_copy(conflict, "conflict");
    json_decref(list);
    site_fails(pair->box, 64, "by", "sync settle %s --take other", id);
    json_decref(site_ask(pair->box, "sync settle %s --take other --by 'J. Lindqvist'", id));
    replica_visit(pair->laptop);
    assert_int_equal(replica_count(pair->laptop, "sync conflicts"), 0);
    json_t *shown = site_ask(pair->laptop, "client show %s", client);
    look_is(shown, "needs", "large print");
    json_decref(shown);
    pair_free(pair);
}

static void what_was_seen_before_it_was_changed_is_no_conflict(void **state)
{
    Pair *pair = pair_new();

    (void)state;
    replica_pair(pair->laptop, pair->box, pair->port);
    g_autofree char *client = replica_client(pair->box, "Ada N.", 1);
    json_decref(site_ask(pair->box, "client set %s --needs 'large print'", client));
    replica_visit(pair->laptop);
    json_decref(site_ask(pair->laptop, "client set %s --needs 'rings only'", client));
    replica_visit(pair->laptop);
    json_decref(site_ask(pair->box, "client set %s --needs 'both'", client));
    replica_visit(pair->laptop);
    assert_int_equal(replica_count(pair->box, "sync conflicts"), 0);
    pair_free(pair);
}

/* The box saw what the laptop, hours ahead, had written; by the laptop's own stamp that lies after all that the box did since. */
static void a_clock_hours_ahead_makes_no_conflict_of_what_was_seen(void **state)
{
    Pair *pair = pair_new();

    (void)state;
    replica_pair(pair->laptop, pair->box, pair->port);
    g_autofree char *client = replica_client(pair->box, "Ada N.", 1);
    replica_visit(pair->laptop);
    assert_true(site_clock(pair->laptop, "2026-03-02T13:00:00Z"));
    json_decref(site_ask(pair->laptop, "client set %s --needs 'rings only'", client));
    replica_visit(pair->laptop);
    assert_true(site_clock(pair->box, "2026-03-02T09:30:00Z"));
    json_decref(site_ask(pair->box, "client set %s --name 'Ada Nash'", client));
    json_decref(site_ask(pair->box, "client set %s --needs 'large print'", client));
    replica_visit(pair->laptop);
    json_t *shown = site_ask(pair->laptop, "client show %s", client);
    look_is(shown, "needs", "large print");
    json_decref(shown);
    assert_int_equal(replica_count(pair->box, "sync conflicts"), 0);
    assert_int_equal(replica_count(pair->laptop, "sync conflicts"), 0);
    pair_free(pair);
}

static void a_stop_on_one_side_outlives_an_edit_on_the_other(void **state)
{
    Pair *pair = pair_new();

    (void)state;
    replica_pair(pair->laptop, pair->box, pair->port);
    g_autofree char *client = replica_client(pair->box, "Ada N.", 1);
    replica_plan(pair->box, client);
    replica_visit(pair->laptop);
    json_decref(site_ask(pair->laptop, "client pause %s --until 2026-03-20 --why illness", client));
    json_decref(site_ask(pair->box, "client set %s --needs 'large print'", client));
    replica_visit(pair->laptop);
    replicas_alike(pair->box, pair->laptop, "client list");
    assert_true(site_clock(pair->box, "2026-03-02T12:00:00Z"));
    json_t *messages = site_ask(pair->box, "messages");
    assert_int_equal(look_count(messages, "kind", "reminder"), 0);
    json_decref(messages);
    pair_free(pair);
}

static void a_wrong_code_learns_nothing_and_five_tries_end_it(void **state)
{
    Pair *pair = pair_new();
    g_autofree char *code = replica_code(pair->box);

    (void)state;
    /* the key's part changed: nothing is sent */
    g_autofree char *other = g_strdup(code);
    other[0] = other[0] == 'A' ? 'B' : 'A';
    site_fails(pair->laptop, 77, "is not who showed the code", "sync pair %s --with 127.0.0.1:%d",
               other, pair->port);
    /* the token's part changed */
    g_autofree char *token = g_strdup(code);
    size_t last = strlen(token) - 1;
    token[last] = token[last] == 'A' ? 'B' : 'A';
    for (int i = 0; i < 5; i++)
        site_fails(pair->laptop, 77, "the code is not open there",
                   "sync pair %s --with 127.0.0.1:%d", token, pair->port);
    site_fails(pair->laptop, 77, "the code is not open there", "sync pair %s --with 127.0.0.1:%d",
               code, pair->port);
    site_fails(pair->laptop, 65, "is no pairing code", "sync pair ABC --with 127.0.0.1:%d",
               pair->port);
    site_fails(pair->laptop, 78, "is not set", "sync pair");
    g_autofree char *fresh = replica_code(pair->box);
    assert_true(site_clock(pair->box, "2026-03-02T09:11:00Z"));
    site_fails(pair->laptop, 77, "over ten minutes old", "sync pair %s --with 127.0.0.1:%d", fresh,
               pair->port);
    pair_free(pair);
}

static void a_code_is_good_once_and_another_clinic_is_refused(void **state)
{
    Pair *pair = pair_new();
    Site *stranger = site_new();
    g_autofree char *code = replica_code(pair->box);

    (void)state;
    stranger->seed = 13;
    replica_settings(stranger, "stranger", 0, "Alder House");
    assert_int_equal(site_start(stranger, MONDAY), 0);
    site_fails(stranger, 77, "another clinic", "sync pair %s --with 127.0.0.1:%d", code,
               pair->port);
    site_fails(pair->laptop, 77, "the code is not open", "sync pair %s --with 127.0.0.1:%d", code,
               pair->port);
    site_free(stranger);
    pair_free(pair);
}

static void who_is_unpaired_is_cut_off_at_once(void **state)
{
    Pair *pair = pair_new();

    (void)state;
    replica_pair(pair->laptop, pair->box, pair->port);
    replica_visit(pair->laptop);
    json_decref(site_ask(pair->box, "sync unpair laptop"));
    g_autofree char *client = replica_client(pair->box, "Ada N.", 1);
    site_fails(pair->laptop, 75, "does not know this replica", "sync now");
    assert_int_equal(replica_count(pair->laptop, "client list"), 0);
    site_fails(pair->box, 66, "is none", "sync unpair nobody");
    pair_free(pair);
}

static void a_bundle_carries_what_the_line_cannot(void **state)
{
    Pair *pair = pair_new();

    (void)state;
    replica_pair(pair->laptop, pair->box, pair->port);
    replica_visit(pair->laptop);
    g_autofree char *client = replica_client(pair->box, "Ada N.", 1);
    replica_plan(pair->box, client);
    g_autofree char *file = g_build_filename(pair->box->root, "stick.osier", NULL);
    json_t *made = site_ask(pair->box, "sync export laptop %s", file);
    assert_true(json_integer_value(json_object_get(made, "events")) >= 4);
    json_decref(made);
    site_fails(pair->box, 65, "", "sync import %s", file); /* it is for the laptop */
    site_fails(pair->laptop, 66, "there is no such file", "sync import %s.none", file);
    json_decref(site_ask(pair->laptop, "sync import %s", file));
    replicas_alike(pair->box, pair->laptop, "client list");
    json_t *again = site_ask(pair->laptop, "sync import %s", file);
    assert_int_equal(json_integer_value(json_object_get(again, "new")), 0);
    json_decref(again);
    g_autofree char *bytes = NULL;
    gsize length;
    assert_true(g_file_get_contents(file, &bytes, &length, NULL));
    assert_true(g_file_set_contents(file, bytes, (gssize)length - 9, NULL));
    site_fails(pair->laptop, 65, "", "sync import %s", file);
    bytes[length / 2] ^= 1;
    assert_true(g_file_set_contents(file, bytes, (gssize)length, NULL));
    site_fails(pair->laptop, 65, "", "sync import %s", file);
    pair_free(pair);
}

static void copy_file(const Site *from, const char *name, Site *to)
{
    g_autofree char *source = g_build_filename(from->clinic, name, NULL);
    g_autofree char *target = g_build_filename(to->clinic, name, NULL);
    g_autofree char *bytes = NULL;
    gsize length;

    assert_true(g_file_get_contents(source, &bytes, &length, NULL));
    assert_true(g_file_set_contents_full(target, bytes, (gssize)length, G_FILE_SET_CONTENTS_NONE,
                                         0600, NULL));
}

static void a_folder_copied_to_a_second_machine_gets_an_id_of_its_own(void **state)
{
    static const char *const KEYS[] = {"secrets/replica.crt", "secrets/replica.key",
                                       "secrets/replica.seal", "secrets/replica.open"};
    Pair *pair = pair_new();
    Site *copy = replica_new("copy", 14, 0);

    (void)state;
    replica_pair(pair->laptop, pair->box, pair->port);
    g_autofree char *client = replica_client(pair->laptop, "Ada N.", 1);
    replica_visit(pair->laptop);
    assert_int_equal(site_stop(pair->laptop), 0);
    copy_file(pair->laptop, "store.db", copy);
    g_autofree char *secrets = g_build_filename(copy->clinic, "secrets", NULL);
    g_mkdir_with_parents(secrets, 0700);
    for (size_t i = 0; i < G_N_ELEMENTS(KEYS); i++)
        copy_file(pair->laptop, KEYS[i], copy);
    assert_int_equal(site_start(pair->laptop, "2026-03-02T09:10:00Z"), 0);
    assert_int_equal(site_start(copy, "2026-03-02T09:10:00Z"), 0);
    g_autofree char *one = replica_client(pair->laptop, "Bo T.", 2);
    g_autofree char *two = replica_client(copy, "Cy W.", 3);
    replica_visit(pair->laptop);
    replica_visit(copy);
    replica_visit(pair->laptop);
    assert_int_equal(replica_count(pair->box, "client list"), 3);
    assert_int_equal(replica_count(pair->laptop, "client list"), 3);
    assert_int_equal(replica_count(copy, "client list"), 3);
    json_t *before = site_ask(pair->laptop, "sync status"), *after = site_ask(copy, "sync status");
    assert_string_not_equal(json_string_value(json_object_get(before, "replica")),
                            json_string_value(json_object_get(after, "replica")));
    look_is(after, "copy_of", json_string_value(json_object_get(before, "replica")));
    look_is(after, "name", "copy");
    json_decref(before);
    json_decref(after);
    g_autofree char *told = site_told(copy, "sync status");
    assert_non_null(strstr(told, "still has its key"));
    assert_int_equal(site_stop(copy), 0);
    json_decref(site_ask(copy, "check --rebuild"));
    site_free(copy);
    pair_free(pair);
}

static void the_duty_changes_hands_and_the_old_sender_falls_silent(void **state)
{
    Pair *pair = pair_new();

    (void)state;
    replica_pair(pair->laptop, pair->box, pair->port);
    g_autofree char *client = replica_client(pair->box, "Ada N.", 1);
    replica_plan(pair->box, client);
    replica_visit(pair->laptop);
    json_decref(site_ask(pair->laptop, "sender take --by 'R. Okafor'"));
    replica_visit(pair->laptop);
    assert_true(site_clock(pair->box, "2026-03-02T12:00:00Z"));
    assert_true(site_clock(pair->laptop, "2026-03-02T12:00:00Z"));
    replica_visit(pair->laptop);
    replicas_alike(pair->box, pair->laptop, "messages");
    json_t *messages = site_ask(pair->laptop, "messages");
    assert_int_equal(look_count(messages, "kind", "reminder"), 1);
    json_decref(messages);
    assert_int_equal(replica_count(pair->laptop, "alerts"), 0);
    json_t *sender = site_ask(pair->box, "sender show");
    assert_false(json_is_true(json_object_get(sender, "here")));
    json_decref(sender);
    pair_free(pair);
}

static void the_duty_taken_from_a_sender_that_goes_on_is_an_alert(void **state)
{
    Pair *pair = pair_new();

    (void)state;
    replica_pair(pair->laptop, pair->box, pair->port);
    g_autofree char *client = replica_client(pair->box, "Ada N.", 1);
    replica_plan(pair->box, client);
    replica_visit(pair->laptop);
    json_decref(site_ask(pair->laptop, "sender take --by 'R. Okafor'"));
    assert_true(site_clock(pair->box, "2026-03-02T12:00:00Z"));
    replica_visit(pair->laptop);
    replica_visit(pair->laptop);
    replicas_alike(pair->box, pair->laptop, "alerts");
    json_t *alerts = site_ask(pair->laptop, "alerts");
    assert_int_equal(look_count(alerts, "kind", "two-senders"), 1);
    json_decref(alerts);
    pair_free(pair);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_laptops_new_client_is_welcomed_and_reminded_by_the_box),
        cmocka_unit_test(an_alert_opened_in_a_village_hall_is_passed_on_by_the_box),
        cmocka_unit_test(two_people_set_one_field_unseen_and_a_third_decides),
        cmocka_unit_test(what_was_seen_before_it_was_changed_is_no_conflict),
        cmocka_unit_test(a_clock_hours_ahead_makes_no_conflict_of_what_was_seen),
        cmocka_unit_test(a_stop_on_one_side_outlives_an_edit_on_the_other),
        cmocka_unit_test(a_wrong_code_learns_nothing_and_five_tries_end_it),
        cmocka_unit_test(a_code_is_good_once_and_another_clinic_is_refused),
        cmocka_unit_test(who_is_unpaired_is_cut_off_at_once),
        cmocka_unit_test(a_bundle_carries_what_the_line_cannot),
        cmocka_unit_test(a_folder_copied_to_a_second_machine_gets_an_id_of_its_own),
        cmocka_unit_test(the_duty_changes_hands_and_the_old_sender_falls_silent),
        cmocka_unit_test(the_duty_taken_from_a_sender_that_goes_on_is_an_alert),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
