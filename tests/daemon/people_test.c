/* SPDX-License-Identifier: Apache-2.0 */
/* A client who is lent again is the client that the store has, whatever happened in between. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "adapters/store/store_memory.h"
#include "daemon/desk/person.h"

typedef struct {
    Clinic clinic;
    Zones *zones;
    People *people;
    Store *store;
} Scene;

static int set_up(void **state)
{
    Scene *scene = g_new0(Scene, 1);

    scene->clinic.zone = (char *)"Europe/London";
    scene->clinic.language = (char *)"en";
    scene->zones = zones_new();
    scene->people = people_new();
    scene->store = store_memory_new("00000000000000a1", 1000);
    *state = scene;
    return 0;
}

static int tear_down(void **state)
{
    Scene *scene = *state;

    scene->store->close(scene->store);
    people_free(scene->people);
    zones_free(scene->zones);
    g_free(scene);
    return 0;
}

static Job job_of(Scene *scene, Tx *tx)
{
    return (Job){.tx = tx,
                 .clinic = &scene->clinic,
                 .zones = scene->zones,
                 .people = scene->people,
                 .now_ms = 2000,
                 .sender = true};
}

static void run(Scene *scene, StoreJob *job)
{
    store_submit(scene->store, 2000, job, NULL, scene);
    store_memory_pump(scene->store);
}

static void name(Tx *tx, const char *to)
{
    tx_append(tx, "client.set", "K7QF2M9T", "test", NULL,
              json_pack("{s:{s:s}}", "fields", "name", to));
}

static void expect(Job *job, const char *wanted, bool held)
{
    g_autoptr(Person) person = person_load(job, "K7QF2M9T");
    g_autoptr(Person) again = person_load(job, "K7QF2M9T");

    assert_non_null(person);
    assert_ptr_equal(person, again);
    assert_string_equal(person->name, wanted);
    assert_int_equal(person->held, held);
}

static bool make(Tx *tx, void *context)
{
    Job job = job_of(context, tx);

    name(tx, "Ada N.");
    expect(&job, "Ada N.", false);
    return true;
}

static bool hold(Tx *tx, void *context)
{
    Job job = job_of(context, tx);

    expect(&job, "Ada N.", false);
    tx_append(tx, "hold.set", "K7QF2M9T", "test", NULL,
              json_pack("{s:i, s:s}", "at", 5, "why", "pain"));
    expect(&job, "Ada N.", true);
    return true;
}

/* What it read must not outlive it. */
static bool rename_in_vain(Tx *tx, void *context)
{
    Job job = job_of(context, tx);

    name(tx, "Ben O.");
    expect(&job, "Ben O.", true);
    return false;
}

static bool still_held(Tx *tx, void *context)
{
    Job job = job_of(context, tx);

    expect(&job, "Ada N.", true);
    return true;
}

static void what_changes_is_read_anew(void **state)
{
    run(*state, make);
    run(*state, hold);
    run(*state, still_held);
}

static void what_was_undone_is_not_lent(void **state)
{
    run(*state, make);
    run(*state, hold);
    run(*state, rename_in_vain);
    run(*state, still_held);
}

static bool rename_well(Tx *tx, void *context)
{
    Job job = job_of(context, tx);

    name(tx, "Ben O.");
    expect(&job, "Ben O.", true);
    return true;
}

/* A whole commit that is lost takes what was read in it along. */
static void what_found_no_room_is_not_lent(void **state)
{
    Scene *scene = *state;

    run(scene, make);
    run(scene, hold);
    store_memory_fail(scene->store, 1, STORE_FULL);
    run(scene, rename_well);
    run(scene, still_held);
}

static bool language_is_english(Tx *tx, void *context)
{
    Scene *scene = context;
    Job job = job_of(scene, tx);
    g_autoptr(Person) person = person_load(&job, "K7QF2M9T");

    assert_string_equal(person->language, scene->clinic.language);
    return true;
}

/* What a client leaves open follows the clinic's settings. */
static void new_settings_count_at_once(void **state)
{
    Scene *scene = *state;

    run(scene, make);
    run(scene, language_is_english);
    scene->clinic.language = (char *)"es";
    people_begin(scene->people, 1);
    run(scene, language_is_english);
}

static bool thousands(Tx *tx, void *context)
{
    Job job = job_of(context, tx);

    for (int i = 0; i < 3000; i++) {
        g_autofree char *id = g_strdup_printf("C%07d", i % 1500);
        if (i < 1500)
            tx_append(tx, "client.set", id, "test", NULL,
                      json_pack("{s:{s:s}}", "fields", "name", id));
        g_autoptr(Person) person = person_load(&job, id);
        assert_string_equal(person->name, id);
    }
    return true;
}

static void more_people_than_are_kept(void **state)
{
    run(*state, thousands);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(what_changes_is_read_anew, set_up, tear_down),
        cmocka_unit_test_setup_teardown(what_was_undone_is_not_lent, set_up, tear_down),
        cmocka_unit_test_setup_teardown(what_found_no_room_is_not_lent, set_up, tear_down),
        cmocka_unit_test_setup_teardown(new_settings_count_at_once, set_up, tear_down),
        cmocka_unit_test_setup_teardown(more_people_than_are_kept, set_up, tear_down),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
