/* SPDX-License-Identifier: Apache-2.0 */
/* The one nudge, on days that ask more than once: it never takes a reminder's place, and never comes on its heels. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "tests/support/json_look.h"
#include "tests/support/site_gateway.h"

#define ADA "+442079460001"

/* A client who never answers, from the first day to the morning of the third. */
typedef struct {
    Site *site;
    StandIn *gateway;
    char *ada;
} Silence;

static Silence silence_of(const char *at)
{
    Silence silence = {.site = site_new(), .gateway = stand_in_new(speech_map(SPEAKS_FORM))};

    site_use(silence.site, silence.gateway, SPEAKS_FORM, site_free_port());
    assert_int_equal(site_start(silence.site, "2026-03-02T08:05:00Z"), 0);
    silence.ada = site_client(silence.site, ADA, at);
    assert_true(site_clock(silence.site, "2026-03-04T07:00:00Z"));
    return silence;
}

static void silence_end(Silence *silence)
{
    g_free(silence->ada);
    site_free(silence->site);
    stand_in_free(silence->gateway);
}

/* How many nudges the second day brought, which has no welcome among its messages. */
static int nudges(const Silence *silence)
{
    json_t *messages =
        site_ask(silence->site, "messages --client %s --since 2026-03-03T00:00:00Z", silence->ada);
    int n = look_count(messages, "kind", "nudge");

    json_decref(messages);
    return n;
}

/* How many of the second day's sessions were asked, answered or not. */
static int asked(const Silence *silence)
{
    json_t *sessions =
        site_ask(silence->site, "sessions %s --from 2026-03-03 --days 1", silence->ada);
    int n = look_count(sessions, "state", "asked") + look_count(sessions, "state", "silent");

    json_decref(sessions);
    return n;
}

static void a_nudge_takes_no_reminders_place(void **state)
{
    Silence silence = silence_of("08:30,13:45,17:00,20:00");

    (void)state;
    assert_int_equal(asked(&silence), 4); /* as many as the cap allows in a day */
    assert_int_equal(nudges(&silence), 0);
    silence_end(&silence);
}

static void where_there_is_room_it_comes(void **state)
{
    Silence silence = silence_of("08:30,13:45,20:00");

    (void)state;
    assert_int_equal(asked(&silence), 3);
    assert_int_equal(nudges(&silence),
                     1); /* at 12:30; the one of 17:45 would be the fifth message */
    silence_end(&silence);
}

static void a_reminder_within_the_hour_asks_as_well(void **state)
{
    Silence silence = silence_of("08:30,13:00");

    (void)state;
    assert_int_equal(asked(&silence), 2);
    assert_int_equal(nudges(&silence), 1); /* of the second alone, at 17:00 */
    silence_end(&silence);
}

static void a_later_reminder_has_asked_already(void **state)
{
    Silence silence = silence_of("08:30,12:00");

    (void)state;
    assert_int_equal(nudges(&silence), 1);
    silence_end(&silence);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_nudge_takes_no_reminders_place),
        cmocka_unit_test(where_there_is_room_it_comes),
        cmocka_unit_test(a_reminder_within_the_hour_asks_as_well),
        cmocka_unit_test(a_later_reminder_has_asked_already),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
