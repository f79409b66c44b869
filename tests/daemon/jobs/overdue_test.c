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
#include "core/calendar/date.h"
#include "daemon/control/handlers.h"
#include "daemon/jobs/schedule.h"
#include "tests/support/scene.h"

#define SUNDAY "2026-03-01T10:00:00Z"     /* the plan is made */
#define SESSION_AT "2026-03-02T08:30:00Z" /* and begins */

typedef struct {
    Scene *scene;
    char *client;
} Plan;

static void call(Job *job, const Plan *plan, CallHandler *handler, json_t *body)
{
    g_free(scene_call(job, handler, plan->client, body));
}

static bool enrol(Job *job, void *context)
{
    Plan *plan = context;

    plan->client =
        scene_call(job, handle_client_add, NULL,
                   json_pack("{s:s, s:s, s:s}", "name", "Ada N.", "phone", "+447700900101",
                             "consent", "sms: signed form, R. Okafor, 2020-01-31"));
    call(job, plan, handle_screen,
         json_pack("{s:s, s:s, s:b}", "by", "R. Okafor", "floor", "yes", "clear", 1));
    call(job, plan, handle_plan_set,
         json_pack("{s:s, s:s, s:s, s:s}", "programme", "calf-and-hamstring", "at", "08:30",
                   "start", "2026-03-02", "stage", "lower-hamstring"));
    return true;
}

static void at(Plan *plan, const char *instant, JobRun *run)
{
    scene_at(plan->scene, instant, run, plan);
}

static int set_up(void **state)
{
    Plan *plan = g_new0(Plan, 1);

    plan->scene = scene_new("", SUNDAY);
    at(plan, SUNDAY, enrol);
    *state = plan;
    return 0;
}

static int tear_down(void **state)
{
    Plan *plan = *state;

    scene_free(plan->scene);
    g_free(plan->client);
    g_free(plan);
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
    Plan *plan = context;
    g_autoptr(GPtrArray) sessions =
        find_sessions(job->tx, plan->client, "2026-03-02", "2026-03-02");
    g_autoptr(GPtrArray) messages = find_outbox_of(job->tx, plan->client, 0);
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
    Plan *plan = context;
    g_autoptr(GPtrArray) sessions =
        find_sessions(job->tx, plan->client, "2026-03-02", "2026-03-02");

    assert_int_equal(sessions->len, 0);
    return true;
}

static bool catch_up(Job *job, void *context)
{
    Plan *plan = context;

    schedule_overdue(job, plan->client);
    schedule_overdue(job, plan->client);
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
    scene_sends(((Plan *)*state)->scene, false);
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
