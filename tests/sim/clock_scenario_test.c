/* SPDX-License-Identifier: Apache-2.0 */
/* Scenes of a clock that is set back or on, under a running osierd and a stopped one, with room in the store and without. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "daemon/daemon.h"
#include "tests/sim/scene.h"

#define CAT "+442079460003"

/* Set back by three hours while osier was off: what was asked is not asked again. */
static void set_back(Scene *scene)
{
    scene_begin(scene);
    scene_to(scene, "2026-03-02T10:00:00Z");
    assert_int_equal(scene_sent(scene, ADA, "reminder"), 1);
    sim_stop(scene->clinic);
    sim_set_clock(scene->clinic, scene_instant("2026-03-02T07:00:00Z"));
    sim_start(scene->clinic);
    scene_to(scene, "2026-03-02T20:30:00Z");
    assert_int_equal(scene_sent(scene, ADA, "reminder"), 1);
    assert_true(scene_sent(scene, ADA, "nudge") <= 1);
    scene_to(scene, "2026-03-03T08:31:00Z");
    assert_int_equal(scene_sent(scene, ADA, "reminder"), 2);
}

static void clock_jumps_back(void **state)
{
    (void)state;
    scene_over_seeds(set_back);
}

/* Set on by three days under a running osier: no burst, and the days between are nobody's fault. */
static void set_on(Scene *scene)
{
    scene_begin(scene);
    scene_to(scene, "2026-03-02T09:00:00Z");
    int before = scene_sent(scene, ADA, "");
    sim_set_clock(scene->clinic, scene_instant("2026-03-05T12:00:00Z"));
    scene_to(scene, "2026-03-05T20:00:00Z");
    assert_int_equal(scene_sent(scene, ADA, "reminder"), 1);
    assert_int_equal(scene_sent(scene, ADA, ""), before);
    scene_session_is(scene, scene->ada, "2026-03-04", "unasked");
    scene_to(scene, "2026-03-06T08:31:00Z");
    assert_int_equal(scene_sent(scene, ADA, "reminder"), 2);
}

static void clock_jumps_forward(void **state)
{
    (void)state;
    scene_over_seeds(set_on);
}

/* A clock that ran a year ahead while a sign came in, and was then mended: the alert goes on being passed on within the hour, not
 * a year later. */
static void mend_clock(Scene *scene)
{
    scene_begin(scene);
    scene_to(scene, "2026-03-02T09:00:00Z");
    sim_stop(scene->clinic);
    sim_set_clock(scene->clinic, scene_instant("2027-03-02T09:05:00Z"));
    sim_start(scene->clinic);
    scene_say(scene, ADA, "I have chest pain");
    scene_to(scene, "2027-03-02T09:10:00Z");
    sim_stop(scene->clinic);
    int okafor = scene_sent(scene, SIM_OKAFOR, "alert"),
        lindqvist = scene_sent(scene, SIM_LINDQVIST, "alert");
    assert_true(okafor + lindqvist > 0);
    sim_set_clock(scene->clinic, scene_instant("2026-03-02T09:11:00Z"));
    sim_start(scene->clinic);
    scene_to(scene, "2026-03-02T10:11:00Z");
    assert_true(scene_sent(scene, SIM_OKAFOR, "alert") > okafor);
    assert_true(scene_sent(scene, SIM_LINDQVIST, "alert") > lindqvist);
    /* The sign holds her. */
    int reminders = scene_sent(scene, ADA, "reminder");
    scene_to(scene, "2026-03-03T08:31:00Z");
    assert_int_equal(scene_sent(scene, ADA, "reminder"), reminders);
}

static void no_alert_waits_for_a_wrong_clock(void **state)
{
    (void)state;
    scene_over_seeds(mend_clock);
}

/* A sign comes in five minutes after the clock was set on to wrong; nine past nine it is mended, under a stopped osierd that found no
 * room to note when it stopped. */
static void mend_clock_without_room(Scene *scene, const char *wrong, const char *until)
{
    scene_begin(scene);
    scene_to(scene, "2026-03-02T09:00:00Z");
    sim_set_clock(scene->clinic, scene_instant(wrong));
    scene_say(scene, ADA, "I have chest pain");
    sim_to(scene->clinic, scene_instant(wrong) + 5 * 60000);
    sim_settle(scene->clinic);
    int okafor = scene_sent(scene, SIM_OKAFOR, "alert"),
        lindqvist = scene_sent(scene, SIM_LINDQVIST, "alert");
    device_fill(scene->clinic->device, 1000000);
    sim_stop(scene->clinic);
    sim_set_clock(scene->clinic, scene_instant("2026-03-02T09:11:00Z"));
    sim_start(scene->clinic);
    device_fill(scene->clinic->device, 0);
    scene_to(scene, until);
    assert_true(scene_sent(scene, SIM_OKAFOR, "alert") > okafor);
    assert_true(scene_sent(scene, SIM_LINDQVIST, "alert") > lindqvist);
}

static void mend_a_year(Scene *scene)
{
    mend_clock_without_room(scene, "2027-03-02T09:05:00Z", "2026-03-02T10:31:00Z");
}

/* Whoever is next is called as soon as if nobody had touched the clock, not two hours later. */
static void mend_two_hours(Scene *scene)
{
    mend_clock_without_room(scene, "2026-03-02T11:05:00Z", "2026-03-02T09:45:00Z");
}

static void no_alert_waits_for_a_wrong_clock_that_nobody_could_note(void **state)
{
    (void)state;
    scene_over_seeds(mend_a_year);
    scene_over_seeds(mend_two_hours);
}

static bool count_event(const Event *event, void *context)
{
    (void)event;
    (*(int *)context)++;
    return true;
}

static bool count_jumps(Tx *tx, void *context)
{
    tx_events(tx, "kind = 'clock.jumped'", count_event, context, "");
    return false;
}

/* A leap under a running osierd, while there is no room: it is written down, and heeded, once there is. */
static void leap_without_room(Scene *scene)
{
    int before = 0, without = 0, after = 0;

    scene_begin(scene);
    scene_to(scene, "2026-03-02T09:00:00Z");
    device_look(scene->clinic->device, count_jumps, &before);
    device_fill(scene->clinic->device, 1000000);
    daemon_clock_jumped(scene->clinic->daemon, scene_instant("2026-03-02T12:00:00Z"),
                        scene_instant("2026-03-02T09:00:00Z"));
    sim_settle(scene->clinic);
    device_look(scene->clinic->device, count_jumps, &without);
    assert_int_equal(without, before);
    device_fill(scene->clinic->device, 0);
    scene_to(scene, "2026-03-02T10:00:00Z");
    device_look(scene->clinic->device, count_jumps, &after);
    assert_int_equal(after, before + 1);
}

static void a_leap_of_the_clock_without_room_is_heeded_later(void **state)
{
    (void)state;
    scene_over_seeds(leap_without_room);
}

static int reminded(const Scene *scene)
{
    return scene_sent(scene, ADA, "reminder") + scene_sent(scene, BEA, "reminder") +
           scene_sent(scene, CAT, "reminder");
}

/* Three are asked for 08:30 and the gateway takes one a minute; the clock is mended before the others had their turn: they are asked
 * at their time, not at once. */
static void set_back_in_the_queue(Scene *scene)
{
    scene_begin(scene);
    g_autofree char *bea = scene_enrol(scene, BEA, "08:30");
    g_autofree char *cat = scene_enrol(scene, CAT, "08:30");
    scene_to(scene, "2026-03-03T08:30:05Z");
    int before = reminded(scene);
    sim_stop(scene->clinic);
    sim_set_clock(scene->clinic, scene_instant("2026-03-03T07:40:00Z"));
    sim_start(scene->clinic);
    scene_to(scene, "2026-03-03T08:29:00Z");
    assert_int_equal(reminded(scene), before);
    scene_to(scene, "2026-03-03T08:40:00Z");
    assert_int_equal(reminded(scene), before + 2);
    scene_session_is(scene, scene->ada, "2026-03-03", "asked");
    scene_session_is(scene, bea, "2026-03-03", "asked");
    scene_session_is(scene, cat, "2026-03-03", "asked");
}

static void who_waits_in_the_queue_is_asked_at_the_time(void **state)
{
    (void)state;
    scene_over_seeds_at("1/min", set_back_in_the_queue);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(clock_jumps_back),
        cmocka_unit_test(clock_jumps_forward),
        cmocka_unit_test(no_alert_waits_for_a_wrong_clock),
        cmocka_unit_test(no_alert_waits_for_a_wrong_clock_that_nobody_could_note),
        cmocka_unit_test(a_leap_of_the_clock_without_room_is_heeded_later),
        cmocka_unit_test(who_waits_in_the_queue_is_asked_at_the_time),
    };

    return cmocka_run_group_tests_name("clock scenario", tests, NULL, NULL);
}
