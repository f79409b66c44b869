/* SPDX-License-Identifier: Apache-2.0 */
/* A session's time has come, and before the clock brings it up somebody changes what its time hangs on: it is met all the same,
 * once, as the plan had it. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "adapters/store/find_record.h"
#include "adapters/store/find_work.h"
#include "adapters/store/store_memory.h"
#include "core/calendar/date.h"
#include "daemon/control/handlers.h"
#include "daemon/jobs/schedule.h"
#include "tests/support/folder.h"

static const char SETTINGS[] = "clinic:\n"
                               "  name: Alder Row Physiotherapy\n"
                               "  zone: Europe/London\n"
                               "  language: en\n"
                               "  phone: \"+442079460100\"\n"
                               "  emergency: \"999\"\n"
                               "  country_code: \"44\"\n"
                               "  hours: {mon-fri: \"08:30-17:30\"}\n"
                               "  quiet: \"21:00-08:00\"\n"
                               "  digest: {day: sunday, at: \"20:00\", to: [desk@clinic.example]}\n"
                               "duty:\n"
                               "  - {name: R. Okafor, sms: \"+442079460190\"}\n"
                               "gateways:\n"
                               "  spool: {kind: spool}\n";

#define SUNDAY "2026-03-01T10:00:00Z"     /* the plan is made */
#define SESSION_AT "2026-03-02T08:30:00Z" /* and begins */

typedef struct {
    char *folder;
    Settings *settings;
    Zones *zones;
    People *people;
    Random *random;
    Store *store;
    int64_t now_ms;
    bool sender;
    char *client;
    JobRun *run;
} Scene;

static bool run_inside(Tx *tx, void *context)
{
    Scene *scene = context;
    Job job = {.tx = tx,
               .settings = scene->settings,
               .clinic = settings_clinic(scene->settings),
               .zones = scene->zones,
               .people = scene->people,
               .random = scene->random,
               .now_ms = scene->now_ms,
               .sender = scene->sender};

    people_begin(scene->people, 1);
    return scene->run(&job, scene);
}

static void at(Scene *scene, const char *instant, JobRun *run)
{
    assert_true(instant_parse(instant, &scene->now_ms));
    scene->run = run;
    store_submit(scene->store, scene->now_ms, run_inside, NULL, scene);
    store_memory_pump(scene->store);
}

static void call(Job *job, Scene *scene, CallHandler *handler, json_t *body)
{
    Call call = {.id = {g_strdup(scene->client), NULL}, .body = body};

    if (!handler(job, &call)) fail_msg("%s", json_dumps(call.answer, 0));
    if (scene->client == NULL)
        scene->client = g_strdup(json_string_value(json_object_get(call.answer, "client")));
    json_decref(call.answer);
    json_decref(body);
    g_free(call.about);
    g_free(call.id[0]);
}

static bool enrol(Job *job, void *context)
{
    call(job, context, handle_client_add,
         json_pack("{s:s, s:s, s:s}", "name", "Ada N.", "phone", "+447700900101", "consent",
                   "sms: signed form"));
    call(job, context, handle_screen,
         json_pack("{s:s, s:s, s:b}", "by", "R. Okafor", "floor", "yes", "clear", 1));
    call(job, context, handle_plan_set,
         json_pack("{s:s, s:s, s:s, s:s}", "programme", "calf-and-hamstring", "at", "08:30",
                   "start", "2026-03-02", "stage", "lower-hamstring"));
    return true;
}

static int set_up(void **state)
{
    Scene *scene = g_new0(Scene, 1);
    g_autoptr(GPtrArray) faults = g_ptr_array_new_with_free_func(g_free);
    int64_t start_ms;

    assert_true(instant_parse(SUNDAY, &start_ms));
    scene->folder = folder_new();
    folder_write(scene->folder, "clinic.yaml", SETTINGS, -1, 0600);
    scene->settings = settings_load(scene->folder, faults);
    assert_non_null(scene->settings);
    scene->zones = zones_new();
    scene->people = people_new();
    scene->random = random_seeded_new(1);
    scene->store = store_memory_new("00000000000000a1", start_ms);
    scene->sender = true;
    at(scene, SUNDAY, enrol);
    *state = scene;
    return 0;
}

static int tear_down(void **state)
{
    Scene *scene = *state;

    scene->store->close(scene->store);
    people_free(scene->people);
    zones_free(scene->zones);
    random_free(scene->random);
    settings_unref(scene->settings);
    folder_remove(scene->folder);
    g_free(scene->client);
    g_free(scene);
    return 0;
}

/* --- what somebody changes --- */

static bool later_in_the_day(Job *job, void *context)
{
    call(job, context, handle_plan_set,
         json_pack("{s:s, s:s, s:s}", "programme", "calf-and-hamstring", "at", "18:00", "stage",
                   "lower-hamstring"));
    return true;
}

static bool back_a_stage(Job *job, void *context)
{
    call(job, context, handle_plan_move,
         json_pack("{s:s, s:s, s:s}", "stage", "calf-with-strap", "by", "R. Okafor", "reason",
                   "too strong"));
    return true;
}

static bool to_new_york(Job *job, void *context)
{
    call(job, context, handle_client_set, json_pack("{s:s}", "zone", "America/New_York"));
    return true;
}

/* --- what is there after --- */

static bool is_asked_once(Job *job, void *context)
{
    Scene *scene = context;
    g_autoptr(GPtrArray) sessions =
        find_sessions(job->tx, scene->client, "2026-03-02", "2026-03-02");
    g_autoptr(GPtrArray) messages = find_outbox_of(job->tx, scene->client, 0);
    int64_t session_ms;
    int reminders = 0;

    assert_true(instant_parse(SESSION_AT, &session_ms));
    assert_int_equal(sessions->len, 1);
    assert_int_equal(row_int(sessions->pdata[0], SESSION_UTC), session_ms);
    assert_string_equal(row_text(sessions->pdata[0], SESSION_STAGE), "lower-hamstring");
    assert_false(row_is_null(sessions->pdata[0], SESSION_ASKED_AT));
    for (guint i = 0; i < messages->len; i++)
        reminders += strcmp(row_text(messages->pdata[i], OUTBOX_KIND), "reminder") == 0;
    assert_int_equal(reminders, 1);
    return true;
}

static bool is_not_asked(Job *job, void *context)
{
    Scene *scene = context;
    g_autoptr(GPtrArray) sessions =
        find_sessions(job->tx, scene->client, "2026-03-02", "2026-03-02");

    assert_int_equal(sessions->len, 0);
    return true;
}

static bool catch_up(Job *job, void *context)
{
    Scene *scene = context;

    schedule_overdue(job, scene->client);
    schedule_overdue(job, scene->client);
    return true;
}

static void the_plan_is_set_anew_as_the_session_is_overdue(void **state)
{
    at(*state, "2026-03-02T08:30:05Z", later_in_the_day);
    at(*state, "2026-03-02T08:30:06Z", is_asked_once);
}

static void the_stage_is_moved_as_the_session_is_overdue(void **state)
{
    at(*state, "2026-03-02T08:30:05Z", back_a_stage);
    at(*state, "2026-03-02T08:30:06Z", is_asked_once);
}

static void the_client_travels_as_the_session_is_overdue(void **state)
{
    at(*state, "2026-03-02T08:30:05Z", to_new_york);
    at(*state, "2026-03-02T08:30:06Z", is_asked_once);
}

static void what_is_met_already_is_not_met_again(void **state)
{
    at(*state, "2026-03-02T08:30:05Z", catch_up);
    at(*state, "2026-03-02T08:30:06Z", catch_up);
    at(*state, "2026-03-02T08:30:07Z", later_in_the_day);
    at(*state, "2026-03-02T08:30:08Z", is_asked_once);
}

static void nothing_is_asked_before_its_time(void **state)
{
    at(*state, "2026-03-02T08:29:59Z", catch_up);
    at(*state, "2026-03-02T08:29:59Z", is_not_asked);
}

static void a_laptop_asks_nobody(void **state)
{
    ((Scene *)*state)->sender = false;
    at(*state, "2026-03-02T08:30:05Z", later_in_the_day);
    at(*state, "2026-03-02T08:30:06Z", is_not_asked);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(the_plan_is_set_anew_as_the_session_is_overdue, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(the_stage_is_moved_as_the_session_is_overdue, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(the_client_travels_as_the_session_is_overdue, set_up,
                                        tear_down),
        cmocka_unit_test_setup_teardown(what_is_met_already_is_not_met_again, set_up, tear_down),
        cmocka_unit_test_setup_teardown(nothing_is_asked_before_its_time, set_up, tear_down),
        cmocka_unit_test_setup_teardown(a_laptop_asks_nobody, set_up, tear_down)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
