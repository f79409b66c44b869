/* SPDX-License-Identifier: Apache-2.0 */
/* The clinic's line goes down, so that no gateway can be reached, and comes back: each situation over 20 seeds, which draw
 * when it goes, when it returns and how many people there are. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "core/calendar/date.h"
#include "tests/sim/clinic.h"
#include "tests/support/json_look.h"

enum { SEEDS = 20, RATE = 5 /* a second, as the clinic's settings have it */, HOSTS = 2 };

#define ASKS "time for your stretches"
#define FOUND_MS (5 * SECOND_MS) /* an alert waits no longer for the line to be found back */

typedef struct {
    int64_t at_ms;
    char *to;
    char *text;
} Left;

typedef struct {
    SimClinic *clinic;
    GArray *left;      /* of Left: what reached the gateways */
    GPtrArray *people; /* ids of clients */
    int64_t down_ms;
} Outage;

static void on_written(const Written *written, void *context)
{
    Outage *outage = context;
    Left left = {sim_now(outage->clinic), g_strdup(written->to), g_strdup(written->text)};

    g_array_append_val(outage->left, left);
}

static void left_clear(void *data)
{
    g_free(((Left *)data)->to);
    g_free(((Left *)data)->text);
}

static int64_t instant(const char *text)
{
    int64_t ms = 0;

    assert_true(instant_parse(text, &ms));
    return ms;
}

static json_t *call(Outage *outage, const char *method, const char *path, json_t *body)
{
    int status;
    json_t *answer = sim_call(outage->clinic, method, path, body, &status);

    if (status != 200) fail_msg("%s %s: %d", method, path, status);
    return answer;
}

static void add_person(Outage *outage, int number)
{
    g_autofree char *phone = g_strdup_printf("+4420794600%02d", number);
    json_t *answer = call(outage, "POST", "/clients",
                          json_pack("{s:s, s:s, s:s, s:s, s:s, s:s}", "name", "Ada N.", "zone",
                                    "Europe/London", "language", "en", "channel", "sms", "phone",
                                    phone, "consent", "sms: signed form, R. Okafor, 2026-03-01"));
    char *id = look_copy(answer, "client");
    g_autofree char *screen = g_strdup_printf("/clients/%s/screen", id);
    g_autofree char *plan = g_strdup_printf("/clients/%s/plan", id);

    json_decref(answer);
    json_decref(call(outage, "POST", screen,
                     json_pack("{s:s, s:s, s:b}", "by", "R. Okafor", "floor", "yes", "clear", 1)));
    json_decref(call(outage, "POST", plan,
                     json_pack("{s:s, s:s, s:s}", "programme", "calf-and-hamstring", "at", "08:30",
                               "stage", "calf-with-strap")));
    g_ptr_array_add(outage->people, id);
}

/* A clinic whose welcomes have gone out; the line goes down some minutes before the sessions of 08:30. */
static Outage *outage_open(uint64_t seed, bool down)
{
    Outage *outage = g_new0(Outage, 1);
    SimSetup setup = {.seed = seed, .start_ms = instant("2026-03-02T07:00:00Z")};

    outage->clinic = sim_clinic_new(&setup);
    outage->left = g_array_new(FALSE, FALSE, sizeof(Left));
    g_array_set_clear_func(outage->left, left_clear);
    outage->people = g_ptr_array_new_with_free_func(g_free);
    standin_watch(outage->clinic->standin, on_written, NULL, outage);
    sim_start(outage->clinic);
    int people = 3 + (int)random_below(outage->clinic->random, "people", 12);
    for (int i = 0; i < people; i++)
        add_person(outage, i + 10);
    outage->down_ms = instant("2026-03-02T08:10:00Z") +
                      (int64_t)random_below(outage->clinic->random, "down", 15 * 60) * SECOND_MS;
    sim_to(outage->clinic, outage->down_ms);
    if (down) standin_set_weather(outage->clinic->standin, WEATHER_DEAD);
    return outage;
}

static void outage_close(Outage *outage)
{
    assert_false(trace_broken(outage->clinic->trace));
    standin_watch(outage->clinic->standin, NULL, NULL, NULL);
    sim_clinic_free(outage->clinic);
    g_array_unref(outage->left);
    g_ptr_array_unref(outage->people);
    g_free(outage);
}

/* Since when it is down (g_free), or NULL. */
static char *down_since(Outage *outage)
{
    json_t *status = call(outage, "GET", "/status", NULL);
    const json_t *since = json_object_get(json_object_get(status, "line"), "since");
    char *text = g_strdup(json_string_value(since));

    json_decref(status);
    return text;
}

static bool is_down(Outage *outage)
{
    json_t *status = call(outage, "GET", "/status", NULL);
    bool down = json_is_true(json_object_get(json_object_get(status, "line"), "down"));

    json_decref(status);
    return down;
}

static int alerts_of(Outage *outage, const char *kind)
{
    json_t *alerts = call(outage, "GET", "/alerts", NULL);
    int n = look_count(alerts, "kind", kind);

    json_decref(alerts);
    return n;
}

static int left_since(const Outage *outage, int64_t from_ms, const char *holds)
{
    int n = 0;

    for (guint i = 0; i < outage->left->len; i++) {
        const Left *left = &g_array_index(outage->left, Left, i);
        n += left->at_ms >= from_ms && (holds == NULL || strstr(left->text, holds) != NULL);
    }
    return n;
}

static void over_seeds(void (*scenario)(uint64_t seed))
{
    for (uint64_t seed = 1; seed <= SEEDS; seed++) {
        print_message("seed %d\n", (int)seed);
        scenario(seed);
    }
}

static void the_line_goes_down(uint64_t seed)
{
    Outage *outage = outage_open(seed, true);
    json_t *message;
    size_t i;

    sim_to(outage->clinic, instant("2026-03-02T09:30:00Z"));
    assert_true(is_down(outage));
    /* Nothing urgent waits: some eighty rounds in the first quarter of an hour, then one each minute. */
    assert_in_range(standin_knocks(outage->clinic->standin), HOSTS * 60, HOSTS * 160);
    assert_int_equal(alerts_of(outage, "gateway"), 0); /* no gateway is blamed */
    assert_int_equal(left_since(outage, outage->down_ms, NULL), 0);
    json_t *messages = call(outage, "GET", "/messages", NULL);
    int waiting = 0;
    json_array_foreach(messages, i, message)
    {
        if (g_strcmp0(json_string_value(json_object_get(message, "kind")), "reminder") != 0)
            continue;
        look_is(message, "fate", "waiting");
        assert_in_range(json_integer_value(json_object_get(message, "attempts")), 0, 1);
        waiting++;
    }
    assert_int_equal(waiting, outage->people->len);
    json_decref(messages);
    outage_close(outage);
}

static void drop(int status, void *context)
{
    (void)context;
    assert_int_equal(status, 200);
}

/* Alerts and safety texts, then the rest as it came due, at the gateway's rate. */
static void the_line_comes_back_in_time(uint64_t seed)
{
    Outage *outage = outage_open(seed, true);
    SimClinic *clinic = outage->clinic;

    int64_t called_ms = instant("2026-03-02T08:50:00Z");
    sim_to(clinic, called_ms);
    sim_hook(
        clinic, "/in/texts",
        "{\"id\":\"h1\",\"from\":\"+442079460010\",\"text\":\"my face is drooping and I cannot "
        "speak\",\"at\":\"2026-03-02T08:50:00Z\"}",
        drop, NULL);
    sim_settle(clinic);
    int64_t back_ms = instant("2026-03-02T08:55:00Z") +
                      (int64_t)random_below(clinic->random, "back", 60 * 60) * SECOND_MS;
    sim_to(clinic, back_ms);
    assert_int_equal(left_since(outage, outage->down_ms, NULL), 0);
    guint before = outage->left->len;
    int knocks = standin_knocks(clinic->standin);
    assert_true(knocks <= HOSTS * (60 + (back_ms - called_ms) / SECOND_MS / 5 + 60));
    standin_set_weather(clinic->standin, WEATHER_CLEAR);
    sim_to(clinic, back_ms + 6 * MINUTE_MS);
    /* It was found back, and the first was on its way, within seconds. */
    assert_in_range(g_array_index(outage->left, Left, before).at_ms, back_ms, back_ms + FOUND_MS);
    assert_false(is_down(outage));
    assert_true(outage->left->len > before + 1);
    int first = 0, late = 0, reminders = 0;
    for (guint i = before; i < outage->left->len; i++) {
        const Left *left = &g_array_index(outage->left, Left, i);
        bool asks = strstr(left->text, ASKS) != NULL;
        bool next_round = strstr(left->text, "AGAIN") != NULL; /* may come due at any moment */
        bool urgent = left->to[0] == '+' && !next_round &&
                      (strstr(left->text, "stroke") != NULL ||
                       strstr(left->text, "This can be serious") != NULL);
        reminders += asks;
        first += urgent;
        late += urgent && reminders > 0;
    }
    /* What was urgent went before every reminder; mail has its own gateway. */
    assert_int_equal(late, 0);
    assert_true(first >= 2);
    /* The one who wrote is on hold now. */
    assert_int_equal(reminders, (int)outage->people->len - 1);
    for (guint i = before; i + RATE < outage->left->len; i++) {
        const Left *one = &g_array_index(outage->left, Left, i);
        const Left *other = &g_array_index(outage->left, Left, i + RATE);
        bool texts = one->to[0] == '+' && other->to[0] == '+';
        if (texts && strstr(one->text, ASKS) != NULL) assert_true(other->at_ms > one->at_ms);
    }
    outage_close(outage);
}

static void state_of_all(Outage *outage, const char *state)
{
    for (guint i = 0; i < outage->people->len; i++) {
        g_autofree char *path = g_strdup_printf("/clients/%s/sessions?from=2026-03-02&days=1",
                                                (char *)outage->people->pdata[i]);
        json_t *sessions = call(outage, "GET", path, NULL);
        look_is(json_array_get(sessions, 0), "state", state);
        json_decref(sessions);
    }
}

/* For half a minute, while sessions come due: nobody notices. */
static void the_line_is_gone_for_a_moment(uint64_t seed)
{
    Outage *outage = outage_open(seed, false);
    SimClinic *clinic = outage->clinic;
    int64_t due_ms = instant("2026-03-02T08:30:00Z");

    sim_to(clinic, due_ms - SECOND_MS);
    standin_set_weather(clinic->standin, WEATHER_DEAD);
    sim_to(clinic, due_ms + 30 * SECOND_MS);
    assert_true(is_down(outage));
    standin_set_weather(clinic->standin, WEATHER_CLEAR);
    sim_to(clinic, due_ms + 33 * SECOND_MS);
    assert_false(is_down(outage));
    sim_to(clinic, due_ms + 40 * SECOND_MS);
    assert_int_equal(left_since(outage, outage->down_ms, ASKS), (int)outage->people->len);
    outage_close(outage);
}

/* Packets are lost rather than refused: a poll that goes out on a connection of before times out. That is no sign of life. */
static void the_line_swallows_what_is_sent(uint64_t seed)
{
    Outage *outage = outage_open(seed, true);
    SimClinic *clinic = outage->clinic;

    sim_to(clinic, instant("2026-03-02T08:31:00Z"));
    g_autofree char *first = down_since(outage);
    assert_non_null(first);
    standin_keep(clinic->standin, 3);
    sim_to(clinic, instant("2026-03-02T09:30:00Z"));
    g_autofree char *still = down_since(outage);
    assert_string_equal(still, first);
    assert_int_equal(left_since(outage, outage->down_ms, NULL), 0);
    outage_close(outage);
}

/* A reminder ends three hours after its time: what lapsed was not asked, and nobody is to blame. */
static void the_line_comes_back_too_late(uint64_t seed)
{
    Outage *outage = outage_open(seed, true);
    SimClinic *clinic = outage->clinic;

    int64_t back_ms = instant("2026-03-02T11:40:00Z") +
                      (int64_t)random_below(clinic->random, "back", 60 * 60) * SECOND_MS;
    sim_to(clinic, back_ms);
    standin_set_weather(clinic->standin, WEATHER_CLEAR);
    sim_to(clinic, back_ms + 30 * MINUTE_MS);
    assert_false(is_down(outage));
    assert_int_equal(left_since(outage, outage->down_ms, ASKS), 0);
    state_of_all(outage, "unasked");
    outage_close(outage);
}

static void nothing_is_wrong(uint64_t seed)
{
    Outage *outage = outage_open(seed, false);

    sim_to(outage->clinic, instant("2026-03-02T09:30:00Z"));
    assert_false(is_down(outage));
    assert_int_equal(left_since(outage, outage->down_ms, ASKS), (int)outage->people->len);
    outage_close(outage);
}

static void line_goes_down(void **state)
{
    (void)state;
    over_seeds(the_line_goes_down);
}

static void line_back_alerts_first(void **state)
{
    (void)state;
    over_seeds(the_line_comes_back_in_time);
}

static void line_back_too_late(void **state)
{
    (void)state;
    over_seeds(the_line_comes_back_too_late);
}

static void line_gone_for_a_moment(void **state)
{
    (void)state;
    over_seeds(the_line_is_gone_for_a_moment);
}

static void line_swallows(void **state)
{
    (void)state;
    over_seeds(the_line_swallows_what_is_sent);
}

static void line_is_fine(void **state)
{
    (void)state;
    over_seeds(nothing_is_wrong);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(line_is_fine),           cmocka_unit_test(line_goes_down),
        cmocka_unit_test(line_gone_for_a_moment), cmocka_unit_test(line_swallows),
        cmocka_unit_test(line_back_alerts_first), cmocka_unit_test(line_back_too_late),
    };

    return cmocka_run_group_tests_name("line", tests, NULL, NULL);
}
