/* SPDX-License-Identifier: Apache-2.0 */
/* Scenes that each have a name: what happened, and what must follow. Every one runs on the twins, over seeds, and under the eyes
 * of the oracle, whose rules hold beside what the scene itself looks for. Monday 2 March 2026, London, at UTC. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "core/calendar/date.h"
#include "tests/sim/oracle.h"

#define SEEDS 3
#define ADA "+442079460001"
#define BEA "+442079460002"

typedef struct {
    SimClinic *clinic;
    Oracle *oracle;
    GPtrArray
        *sent; /* "NUMBER KIND TEXT" of each message that the gateway took; alerts by mail too */
    GPtrArray *refused; /* the same of those that it refused */
    char *ada;
} Scene;

static void on_written(const Written *written, void *context)
{
    Scene *scene = context;
    Sent sent;

    if (!oracle_written(scene->oracle, written, &sent)) return;
    GPtrArray *list = written->made == MADE_ACCEPTED  ? scene->sent
                      : written->made == MADE_REFUSED ? scene->refused
                                                      : NULL;
    if (list != NULL)
        g_ptr_array_add(list, g_strdup_printf("%s %s %s", written->to, sent.kind, sent.text));
    sent_clear(&sent);
}

static int64_t instant(const char *text)
{
    int64_t ms = 0;

    assert_true(instant_parse(text, &ms));
    return ms;
}

/* A call that must succeed; one text of its answer (g_free), or NULL. */
static char *call(Scene *scene, json_t *body, const char *field, const char *path, ...)
{
    int status;
    va_list list;

    va_start(list, path);
    g_autofree char *filled = g_strdup_vprintf(path, list);
    va_end(list);
    json_t *answer = sim_call(scene->clinic, body != NULL ? "POST" : "GET", filled, body, &status);
    if (status != 200) fail_msg("%s: %d: %s", filled, status, json_dumps(answer, 0));
    const json_t *from = json_is_array(answer) ? json_array_get(answer, 0) : answer;
    char *value = g_strdup(json_string_value(json_object_get(from, field)));
    json_decref(answer);
    return value;
}

static char *enrol(Scene *scene, const char *phone, const char *at)
{
    char *id = call(scene,
                    json_pack("{s:s, s:s, s:s, s:s, s:s, s:s}", "name", "Ada Marsh", "zone",
                              "Europe/London", "language", "en", "channel", "sms", "phone", phone,
                              "consent", "sms: signed form, R. Okafor, 2026-03-01"),
                    "client", "/clients");

    g_free(call(scene, json_pack("{s:s, s:s, s:b}", "by", "R. Okafor", "floor", "yes", "clear", 1),
                "x", "/clients/%s/screen", id));
    g_free(call(scene,
                json_pack("{s:s, s:s, s:s}", "programme", "calf-and-hamstring", "at", at, "stage",
                          "calf-with-strap"),
                "x", "/clients/%s/plan", id));
    return id;
}

static void to(Scene *scene, const char *when)
{
    sim_to(scene->clinic, instant(when));
    sim_settle(scene->clinic);
    assert_false(trace_broken(scene->clinic->trace));
}

/* Ada is enrolled on Monday at eight, for 08:30 each day. */
static Scene scene_open(uint64_t seed, bool takes_key)
{
    Scene scene = {.sent = g_ptr_array_new_with_free_func(g_free),
                   .refused = g_ptr_array_new_with_free_func(g_free)};
    SimSetup setup = {
        .seed = seed, .start_ms = instant("2026-03-02T08:00:00Z"), .takes_key = takes_key};

    scene.clinic = sim_clinic_new(&setup);
    scene.oracle = oracle_new(scene.clinic, takes_key);
    return scene;
}

/* The gateway is watched from where the scene lies for good. */
static void scene_begin(Scene *scene)
{
    standin_watch(scene->clinic->standin, on_written, NULL, scene);
    sim_start(scene->clinic);
    scene->ada = enrol(scene, ADA, "08:30");
}

static void scene_close(Scene *scene)
{
    oracle_compare(scene->oracle);
    assert_false(trace_broken(scene->clinic->trace));
    sim_stop(scene->clinic);
    oracle_free(scene->oracle);
    sim_clinic_free(scene->clinic);
    g_ptr_array_unref(scene->sent);
    g_ptr_array_unref(scene->refused);
    g_free(scene->ada);
}

/* Messages taken for that number that begin with that kind; of all kinds where it is "". */
static int sent(const Scene *scene, const char *number, const char *kind)
{
    g_autofree char *begin = g_strdup_printf("%s %s", number, kind);
    int n = 0;

    for (guint i = 0; i < scene->sent->len; i++)
        n += g_str_has_prefix(scene->sent->pdata[i], begin);
    return n;
}

static void no_matter(int status, void *context)
{
    *(int *)context = status;
}

/* A text comes in by webhook and is acknowledged. */
static void say(Scene *scene, const char *from, const char *text)
{
    static int count;
    int status = 0;
    g_autofree char *id = g_strdup_printf("said%d", ++count);
    json_t *item = json_pack("{s:s, s:s, s:s}", "id", id, "from", from, "text", text);
    char *json = json_dumps(item, 0);

    oracle_said(scene->oracle, id, id, from, text);
    sim_hook(scene->clinic, "/in/texts", json, no_matter, &status);
    sim_settle(scene->clinic);
    assert_int_equal(status, 200);
    free(json);
    json_decref(item);
}

static void session_is(Scene *scene, const char *client, const char *date, const char *state)
{
    g_autofree char *is =
        call(scene, NULL, "state", "/clients/%s/sessions?from=%s&days=1", client, date);

    assert_string_equal(is, state);
}

typedef void Act(Scene *scene);

static void over_seeds(Act *act)
{
    for (uint64_t seed = 1; seed <= SEEDS; seed++) {
        Scene scene = scene_open(seed, seed % 2 == 0);
        act(&scene);
        if (trace_broken(scene.clinic->trace)) fail_msg("seed %d", (int)seed);
        scene_close(&scene);
    }
}

/* --- the gateway ---------------------------------------------------------------------------------------------------------- */

/* One number is refused: the clinic is told, the session is nobody's fault, and who else is due is written to. */
static void refuse_ada(Scene *scene)
{
    scene_begin(scene);
    g_autofree char *bea = enrol(scene, BEA, "08:30");
    standin_refuse(scene->clinic->standin, ADA, true);
    to(scene, "2026-03-02T09:30:00Z");
    assert_int_equal(sent(scene, BEA, "reminder"), 1);
    assert_int_equal(sent(scene, ADA, "reminder"), 0);
    session_is(scene, scene->ada, "2026-03-02", "unasked");
    g_autofree char *kind = call(scene, NULL, "kind", "/alerts");
    assert_string_equal(kind, "undeliverable");
    standin_refuse(scene->clinic->standin, ADA, false);
    to(scene, "2026-03-03T08:31:00Z");
    assert_int_equal(sent(scene, ADA, "reminder"), 1);
}

static void gateway_refuses(void **state)
{
    (void)state;
    over_seeds(refuse_ada);
}

/* Her reminder is refused, and minutes later an answer to her. Each refusal waits for its own ten minutes: the reminder is settled
 * before its time to go again has come, at which Bea's goes out and shows that the gateway is well. */
static void refuse_ada_twice(Scene *scene)
{
    scene_begin(scene);
    g_autofree char *bea = enrol(scene, BEA, "08:41");
    standin_refuse(scene->clinic->standin, ADA, true);
    to(scene, "2026-03-02T08:34:00Z");
    say(scene, ADA, "HELP");
    to(scene, "2026-03-02T08:39:00Z");
    assert_int_equal(scene->refused->len, 2);
    to(scene, "2026-03-02T09:30:00Z");
    assert_int_equal(scene->refused->len, 2);
    assert_int_equal(sent(scene, BEA, "reminder"), 1);
    session_is(scene, scene->ada, "2026-03-02", "unasked");
}

static void gateway_refuses_one_person_twice(void **state)
{
    (void)state;
    over_seeds(refuse_ada_twice);
}

/* --- away ----------------------------------------------------------------------------------------------------------------- */

/* Off from Monday noon to Wednesday noon: Tuesday's and Wednesday's reminders are past their end and stay unsent, nothing comes in
 * a burst, and Thursday goes on as ever. */
static void be_away(Scene *scene)
{
    scene_begin(scene);
    to(scene, "2026-03-02T12:00:00Z");
    sim_stop(scene->clinic);
    sim_to(scene->clinic, instant("2026-03-04T12:00:00Z"));
    int before = (int)scene->sent->len;
    sim_start(scene->clinic);
    to(scene, "2026-03-04T20:00:00Z");
    assert_int_equal(sent(scene, ADA, "reminder"), 1);
    assert_int_equal(sent(scene, ADA, "nudge"), 0);
    assert_true((int)scene->sent->len - before <= 2);
    session_is(scene, scene->ada, "2026-03-03", "unasked");
    session_is(scene, scene->ada, "2026-03-04", "unasked");
    to(scene, "2026-03-05T08:31:00Z");
    assert_int_equal(sent(scene, ADA, "reminder"), 2);
}

static void offline_two_days(void **state)
{
    (void)state;
    over_seeds(be_away);
}

/* --- the clock ------------------------------------------------------------------------------------------------------------ */

/* Set back by three hours while osier was off: what was asked is not asked again. */
static void set_back(Scene *scene)
{
    scene_begin(scene);
    to(scene, "2026-03-02T10:00:00Z");
    assert_int_equal(sent(scene, ADA, "reminder"), 1);
    sim_stop(scene->clinic);
    sim_set_clock(scene->clinic, instant("2026-03-02T07:00:00Z"));
    sim_start(scene->clinic);
    to(scene, "2026-03-02T20:30:00Z");
    assert_int_equal(sent(scene, ADA, "reminder"), 1);
    assert_true(sent(scene, ADA, "nudge") <= 1);
    to(scene, "2026-03-03T08:31:00Z");
    assert_int_equal(sent(scene, ADA, "reminder"), 2);
}

static void clock_jumps_back(void **state)
{
    (void)state;
    over_seeds(set_back);
}

/* Set on by three days under a running osier: no burst, and the days between are nobody's fault. */
static void set_on(Scene *scene)
{
    scene_begin(scene);
    to(scene, "2026-03-02T09:00:00Z");
    int before = sent(scene, ADA, "");
    sim_set_clock(scene->clinic, instant("2026-03-05T12:00:00Z"));
    to(scene, "2026-03-05T20:00:00Z");
    assert_int_equal(sent(scene, ADA, "reminder"), 1);
    assert_int_equal(sent(scene, ADA, ""), before);
    session_is(scene, scene->ada, "2026-03-04", "unasked");
    to(scene, "2026-03-06T08:31:00Z");
    assert_int_equal(sent(scene, ADA, "reminder"), 2);
}

static void clock_jumps_forward(void **state)
{
    (void)state;
    over_seeds(set_on);
}

/* A clock that ran a year ahead while a sign came in, and was then mended: the alert goes on being passed on within the hour, not
 * a year later. */
static void mend_clock(Scene *scene)
{
    scene_begin(scene);
    to(scene, "2026-03-02T09:00:00Z");
    sim_stop(scene->clinic);
    sim_set_clock(scene->clinic, instant("2027-03-02T09:05:00Z"));
    sim_start(scene->clinic);
    say(scene, ADA, "I have chest pain");
    to(scene, "2027-03-02T09:10:00Z");
    sim_stop(scene->clinic);
    int okafor = sent(scene, SIM_OKAFOR, "alert"), lindqvist = sent(scene, SIM_LINDQVIST, "alert");
    assert_true(okafor + lindqvist > 0);
    sim_set_clock(scene->clinic, instant("2026-03-02T09:11:00Z"));
    sim_start(scene->clinic);
    to(scene, "2026-03-02T10:11:00Z");
    assert_true(sent(scene, SIM_OKAFOR, "alert") > okafor);
    assert_true(sent(scene, SIM_LINDQVIST, "alert") > lindqvist);
    /* The sign holds her. */
    int reminders = sent(scene, ADA, "reminder");
    to(scene, "2026-03-03T08:31:00Z");
    assert_int_equal(sent(scene, ADA, "reminder"), reminders);
}

static void no_alert_waits_for_a_wrong_clock(void **state)
{
    (void)state;
    over_seeds(mend_clock);
}

/* The same, and the clock is mended under a stopped osierd, that found no room to note when it stopped. */
static void mend_clock_without_room(Scene *scene)
{
    scene_begin(scene);
    to(scene, "2026-03-02T09:00:00Z");
    sim_set_clock(scene->clinic, instant("2027-03-02T09:05:00Z"));
    say(scene, ADA, "I have chest pain");
    to(scene, "2027-03-02T09:10:00Z");
    int okafor = sent(scene, SIM_OKAFOR, "alert"), lindqvist = sent(scene, SIM_LINDQVIST, "alert");
    device_fill(scene->clinic->device, 1000000);
    sim_stop(scene->clinic);
    sim_set_clock(scene->clinic, instant("2026-03-02T09:11:00Z"));
    sim_start(scene->clinic);
    device_fill(scene->clinic->device, 0);
    to(scene, "2026-03-02T10:31:00Z");
    assert_true(sent(scene, SIM_OKAFOR, "alert") > okafor);
    assert_true(sent(scene, SIM_LINDQVIST, "alert") > lindqvist);
}

static void no_alert_waits_for_a_wrong_clock_that_nobody_could_note(void **state)
{
    (void)state;
    over_seeds(mend_clock_without_room);
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
    to(scene, "2026-03-02T09:00:00Z");
    device_look(scene->clinic->device, count_jumps, &before);
    device_fill(scene->clinic->device, 1000000);
    daemon_clock_jumped(scene->clinic->daemon, instant("2026-03-02T12:00:00Z"),
                        instant("2026-03-02T09:00:00Z"));
    sim_settle(scene->clinic);
    device_look(scene->clinic->device, count_jumps, &without);
    assert_int_equal(without, before);
    device_fill(scene->clinic->device, 0);
    to(scene, "2026-03-02T10:00:00Z");
    device_look(scene->clinic->device, count_jumps, &after);
    assert_int_equal(after, before + 1);
}

static void a_leap_of_the_clock_without_room_is_heeded_later(void **state)
{
    (void)state;
    over_seeds(leap_without_room);
}

/* --- the device ----------------------------------------------------------------------------------------------------------- */

/* No room at the start: nothing is sent or lost; once there is room the day's session is asked, by itself. */
static void start_full(Scene *scene)
{
    scene_begin(scene);
    to(scene, "2026-03-02T12:00:00Z");
    sim_stop(scene->clinic);
    sim_to(scene->clinic, instant("2026-03-03T08:29:00Z"));
    device_fill(scene->clinic->device, 1000000);
    sim_start(scene->clinic);
    to(scene, "2026-03-03T08:44:00Z");
    assert_int_equal(sent(scene, ADA, "reminder"), 1);
    device_fill(scene->clinic->device, 0);
    to(scene, "2026-03-03T08:46:00Z");
    assert_int_equal(sent(scene, ADA, "reminder"), 2);
    session_is(scene, scene->ada, "2026-03-03", "asked");
}

static void device_full_at_start(void **state)
{
    (void)state;
    over_seeds(start_full);
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
        ids[i] = enrol(scene, phone, "08:30");
    }
    to(scene, "2026-03-02T08:29:00Z");
    standin_set_weather(scene->clinic->standin, WEATHER_SLOW);
    to(scene, "2026-03-02T08:31:00Z");
    standin_set_weather(scene->clinic->standin, WEATHER_CLEAR);
    /* The oracle sees that nobody barred is written to; the claim's instant is what it judges by. */
    say(scene, "+442079460129", "STOP");
    to(scene, "2026-03-02T11:00:00Z");
    for (size_t i = 0; i < G_N_ELEMENTS(ids); i++) {
        g_autofree char *phone = g_strdup_printf("+4420794601%02zu", i);
        int reminders = sent(scene, phone, "reminder");
        assert_true(reminders == 1 || (i == 29 && reminders == 0));
        g_free(ids[i]);
    }
}

static void old_claims_are_given_back(void **state)
{
    (void)state;
    over_seeds(wait_long);
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
    g_autofree char *by = call(scene, NULL, "taken_by", "/alerts");

    assert_string_equal(by != NULL ? by : "nobody", name);
}

/* R. Okafor is called, then J. Lindqvist; Okafor takes it. Lindqvist's own code does not take it away, until two hours without an
 * outcome have passed and it was passed on again. */
static void take_over(Scene *scene)
{
    scene_begin(scene);
    to(scene, "2026-03-02T09:00:00Z");
    say(scene, ADA, "I have chest pain");
    to(scene, "2026-03-02T09:20:00Z");
    g_autofree char *okafors = taking_text(scene, SIM_OKAFOR);
    g_autofree char *lindqvists = taking_text(scene, SIM_LINDQVIST);
    say(scene, SIM_OKAFOR, okafors);
    taken_by(scene, "R. Okafor");
    say(scene, SIM_LINDQVIST, lindqvists);
    taken_by(scene, "R. Okafor");
    to(scene, "2026-03-02T14:00:00Z");
    taken_by(scene, "R. Okafor");
    g_autofree char *again = taking_text(scene, SIM_LINDQVIST);
    assert_string_not_equal(again, lindqvists);
    say(scene, SIM_LINDQVIST, again);
    taken_by(scene, "J. Lindqvist");
    /* A code is good once. */
    say(scene, SIM_OKAFOR, okafors);
    taken_by(scene, "J. Lindqvist");
}

static void taken_over_by_text(void **state)
{
    (void)state;
    over_seeds(take_over);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(gateway_refuses),
        cmocka_unit_test(gateway_refuses_one_person_twice),
        cmocka_unit_test(offline_two_days),
        cmocka_unit_test(clock_jumps_back),
        cmocka_unit_test(clock_jumps_forward),
        cmocka_unit_test(no_alert_waits_for_a_wrong_clock),
        cmocka_unit_test(no_alert_waits_for_a_wrong_clock_that_nobody_could_note),
        cmocka_unit_test(a_leap_of_the_clock_without_room_is_heeded_later),
        cmocka_unit_test(device_full_at_start),
        cmocka_unit_test(old_claims_are_given_back),
        cmocka_unit_test(taken_over_by_text),
    };

    return cmocka_run_group_tests_name("scenario", tests, NULL, NULL);
}
