/* SPDX-License-Identifier: Apache-2.0 */
/* Scenes that each have a name: what happened, and what must follow. Every one runs on the twins, over seeds, and under the eyes
 * of the oracle, whose rules hold beside what the scene itself looks for. Monday 2 March 2026, London, at UTC. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "tests/sim/scene.h"

/* --- the gateway ---------------------------------------------------------------------------------------------------------- */

/* One number is refused: the clinic is told, the session is nobody's fault, and who else is due is written to. */
static void refuse_ada(Scene *scene)
{
    scene_begin(scene);
    g_autofree char *bea = scene_enrol(scene, BEA, "08:30");
    standin_refuse(scene->clinic->standin, ADA, true);
    scene_to(scene, "2026-03-02T09:30:00Z");
    assert_int_equal(scene_sent(scene, BEA, "reminder"), 1);
    assert_int_equal(scene_sent(scene, ADA, "reminder"), 0);
    scene_session_is(scene, scene->ada, "2026-03-02", "unasked");
    g_autofree char *kind = scene_call(scene, NULL, "kind", "/alerts");
    assert_string_equal(kind, "undeliverable");
    standin_refuse(scene->clinic->standin, ADA, false);
    scene_to(scene, "2026-03-03T08:31:00Z");
    assert_int_equal(scene_sent(scene, ADA, "reminder"), 1);
}

static void gateway_refuses(void **state)
{
    (void)state;
    scene_over_seeds(refuse_ada);
}

/* Her reminder is refused, and minutes later an answer to her. Each refusal waits for its own ten minutes: the reminder is settled
 * before its time to go again has come, at which Bea's goes out and shows that the gateway is well. */
static void refuse_ada_twice(Scene *scene)
{
    scene_begin(scene);
    g_autofree char *bea = scene_enrol(scene, BEA, "08:41");
    standin_refuse(scene->clinic->standin, ADA, true);
    scene_to(scene, "2026-03-02T08:34:00Z");
    scene_say(scene, ADA, "HELP");
    scene_to(scene, "2026-03-02T08:39:00Z");
    assert_int_equal(scene->refused->len, 2);
    scene_to(scene, "2026-03-02T09:30:00Z");
    assert_int_equal(scene->refused->len, 2);
    assert_int_equal(scene_sent(scene, BEA, "reminder"), 1);
    scene_session_is(scene, scene->ada, "2026-03-02", "unasked");
}

static void gateway_refuses_one_person_twice(void **state)
{
    (void)state;
    scene_over_seeds(refuse_ada_twice);
}

/* --- away ----------------------------------------------------------------------------------------------------------------- */

/* Off from Monday noon to Wednesday noon: Tuesday's and Wednesday's reminders are past their end and stay unsent, nothing comes in
 * a burst, and Thursday goes on as ever. */
static void be_away(Scene *scene)
{
    scene_begin(scene);
    scene_to(scene, "2026-03-02T12:00:00Z");
    sim_stop(scene->clinic);
    sim_to(scene->clinic, scene_instant("2026-03-04T12:00:00Z"));
    int before = (int)scene->sent->len;
    sim_start(scene->clinic);
    scene_to(scene, "2026-03-04T20:00:00Z");
    assert_int_equal(scene_sent(scene, ADA, "reminder"), 1);
    assert_int_equal(scene_sent(scene, ADA, "nudge"), 0);
    assert_true((int)scene->sent->len - before <= 2);
    scene_session_is(scene, scene->ada, "2026-03-03", "unasked");
    scene_session_is(scene, scene->ada, "2026-03-04", "unasked");
    scene_to(scene, "2026-03-05T08:31:00Z");
    assert_int_equal(scene_sent(scene, ADA, "reminder"), 2);
}

static void offline_two_days(void **state)
{
    (void)state;
    scene_over_seeds(be_away);
}

/* --- the device ----------------------------------------------------------------------------------------------------------- */

/* No room at the start: nothing is sent or lost; once there is room the day's session is asked, by itself. */
static void start_full(Scene *scene)
{
    scene_begin(scene);
    scene_to(scene, "2026-03-02T12:00:00Z");
    sim_stop(scene->clinic);
    sim_to(scene->clinic, scene_instant("2026-03-03T08:29:00Z"));
    device_fill(scene->clinic->device, 1000000);
    sim_start(scene->clinic);
    scene_to(scene, "2026-03-03T08:44:00Z");
    assert_int_equal(scene_sent(scene, ADA, "reminder"), 1);
    device_fill(scene->clinic->device, 0);
    scene_to(scene, "2026-03-03T08:46:00Z");
    assert_int_equal(scene_sent(scene, ADA, "reminder"), 2);
    scene_session_is(scene, scene->ada, "2026-03-03", "asked");
}

static void device_full_at_start(void **state)
{
    (void)state;
    scene_over_seeds(start_full);
}

/* --- claims --------------------------------------------------------------------------------------------------------------- */

/* Thirty are due at one minute and the gateway takes minutes for each: what was claimed and waits too long for its turn goes back,
 * so that who stops meanwhile is not written to on the word of a gate of long ago. */
static void wait_long(Scene *scene)
{
    char *ids[30];

    scene_begin(scene);
    for (size_t i = 0; i < G_N_ELEMENTS(ids); i++) {
        g_autofree char *phone = g_strdup_printf("+4420794601%02zu", i);
        ids[i] = scene_enrol(scene, phone, "08:30");
    }
    scene_to(scene, "2026-03-02T08:29:00Z");
    standin_set_weather(scene->clinic->standin, WEATHER_SLOW);
    scene_to(scene, "2026-03-02T08:31:00Z");
    standin_set_weather(scene->clinic->standin, WEATHER_CLEAR);
    /* The oracle sees that nobody barred is written to; the claim's instant is what it judges by. */
    scene_say(scene, "+442079460129", "STOP");
    scene_to(scene, "2026-03-02T11:00:00Z");
    for (size_t i = 0; i < G_N_ELEMENTS(ids); i++) {
        g_autofree char *phone = g_strdup_printf("+4420794601%02zu", i);
        int reminders = scene_sent(scene, phone, "reminder");
        assert_true(reminders == 1 || (i == 29 && reminders == 0));
        g_free(ids[i]);
    }
}

static void old_claims_are_given_back(void **state)
{
    (void)state;
    scene_over_seeds(wait_long);
}

#define CROWD 30

typedef struct {
    Scene *scene;
    int statuses[CROWD];
    bool said;
} Crowd;

static char *crowd_phone(int i)
{
    return g_strdup_printf("+4420794601%02d", i);
}

/* Once the first reminder of the day has left, everybody writes STOP. */
static void all_stop(SimClinic *clinic, void *context)
{
    Crowd *crowd = context;

    (void)clinic;
    if (crowd->said || crowd->scene->sent->len == 0) return;
    crowd->said = true;
    for (int i = 0; i < CROWD; i++) {
        g_autofree char *phone = crowd_phone(i);
        scene_put(crowd->scene, phone, "STOP", &crowd->statuses[i]);
    }
}

/* Thirty reminders have passed the gate and go out one by one. Whoever stops meanwhile, and whose has not left yet, gets none, though
 * no time passes. */
static void stop_in_the_queue(Scene *scene)
{
    Crowd crowd = {.scene = scene};
    int reminders = 0;

    scene_begin(scene);
    for (int i = 0; i < CROWD; i++) {
        g_autofree char *phone = crowd_phone(i);
        g_free(scene_enrol(scene, phone, "08:40"));
    }
    scene_to(scene, "2026-03-02T08:39:00Z");
    g_ptr_array_set_size(scene->sent, 0);
    scene->clinic->turn = all_stop;
    scene->clinic->turn_context = &crowd;
    scene_to(scene, "2026-03-02T08:45:00Z");
    scene->clinic->turn = NULL;
    for (int i = 0; i < CROWD; i++) {
        g_autofree char *phone = crowd_phone(i);
        assert_int_equal(crowd.statuses[i], 200);
        assert_int_equal(scene_sent(scene, phone, "stopped"), 1);
        reminders += scene_sent(scene, phone, "reminder");
    }
    /* Some left while the words were on their way into the store. */
    assert_in_range(reminders, 1, CROWD / 2);
}

static void who_stops_in_the_queue_is_not_written_to(void **state)
{
    (void)state;
    scene_over_seeds_at("1000/s", stop_in_the_queue);
}

/* --- taking over ---------------------------------------------------------------------------------------------------------- */

/* The code that was sent to that number last, as the text that takes by it (g_free). */
static char *taking_text(const Scene *scene, const char *number)
{
    g_autofree char *begin = g_strdup_printf("%s alert", number);

    for (guint i = scene->sent->len; i-- > 0;) {
        const char *line = scene->sent->pdata[i];
        const char *take = strstr(line, "TAKE ");
        if (g_str_has_prefix(line, begin) && take != NULL) return g_strndup(take, 9);
    }
    fail_msg("no code was sent to %s", number);
    return NULL;
}

static void taken_by(Scene *scene, const char *name)
{
    g_autofree char *by = scene_call(scene, NULL, "taken_by", "/alerts");

    assert_string_equal(by != NULL ? by : "nobody", name);
}

/* R. Okafor is called, then J. Lindqvist; Okafor takes it. Lindqvist's own code does not take it away, until two hours without an
 * outcome have passed and it was passed on again. */
static void take_over(Scene *scene)
{
    scene_begin(scene);
    scene_to(scene, "2026-03-02T09:00:00Z");
    scene_say(scene, ADA, "I have chest pain");
    scene_to(scene, "2026-03-02T09:20:00Z");
    g_autofree char *okafors = taking_text(scene, SIM_OKAFOR);
    g_autofree char *lindqvists = taking_text(scene, SIM_LINDQVIST);
    scene_say(scene, SIM_OKAFOR, okafors);
    taken_by(scene, "R. Okafor");
    scene_say(scene, SIM_LINDQVIST, lindqvists);
    taken_by(scene, "R. Okafor");
    scene_to(scene, "2026-03-02T14:00:00Z");
    taken_by(scene, "R. Okafor");
    g_autofree char *again = taking_text(scene, SIM_LINDQVIST);
    assert_string_not_equal(again, lindqvists);
    scene_say(scene, SIM_LINDQVIST, again);
    taken_by(scene, "J. Lindqvist");
    /* A code is good once. */
    scene_say(scene, SIM_OKAFOR, okafors);
    taken_by(scene, "J. Lindqvist");
}

static void taken_over_by_text(void **state)
{
    (void)state;
    scene_over_seeds(take_over);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(gateway_refuses),
        cmocka_unit_test(gateway_refuses_one_person_twice),
        cmocka_unit_test(offline_two_days),
        cmocka_unit_test(device_full_at_start),
        cmocka_unit_test(old_claims_are_given_back),
        cmocka_unit_test(taken_over_by_text),
        cmocka_unit_test(who_stops_in_the_queue_is_not_written_to),
    };

    return cmocka_run_group_tests_name("scenario", tests, NULL, NULL);
}
