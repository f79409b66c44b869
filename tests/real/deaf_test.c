/* SPDX-License-Identifier: Apache-2.0 */
/* What brings replies does not answer, while texts and mail get out: a clinician hears of it, once, and the digest knows of the
 * time although it is not over. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "tests/support/json_look.h"
#include "tests/support/rough_site.h"

#define OKAFOR "+442079460190"

typedef struct {
    Site *site;
    StandIn *gateway;
    char *dead; /* the poll, or the mailbox, where nobody listens */
    char *live;
} Deaf;

static Deaf deaf_new(void)
{
    Deaf deaf = {.site = site_new(), .gateway = stand_in_new(speech_map(SPEAKS_FORM))};

    deaf.dead = g_strdup_printf("http://127.0.0.1:%d/inbox", site_free_port());
    deaf.live = g_strdup_printf("http://127.0.0.1:%d/inbox", stand_in_port(deaf.gateway));
    return deaf;
}

static void deaf_open(Deaf *deaf)
{
    assert_int_equal(site_start(deaf->site, "2026-03-02T09:00:00Z"), 0);
}

/* The texts are polled where nobody listens. */
static Deaf deaf_poll(void)
{
    Deaf deaf = deaf_new();

    site_use(deaf.site, deaf.gateway, SPEAKS_FORM, site_free_port());
    site_replace(deaf.site, deaf.live, deaf.dead);
    deaf_open(&deaf);
    return deaf;
}

static void deaf_close(Deaf *deaf)
{
    site_free(deaf->site);
    stand_in_free(deaf->gateway);
    g_free(deaf->dead);
    g_free(deaf->live);
}

static void to(Deaf *deaf, const char *instant)
{
    assert_true(site_clock(deaf->site, instant));
}

static int alerts(Deaf *deaf, const char *words)
{
    json_t *list = site_ask(deaf->site, "%s", words);
    int n = look_count(list, "kind", "gateway");

    json_decref(list);
    return n;
}

static double away_hours(Deaf *deaf)
{
    json_t *week = site_ask(deaf->site, "week --of 2026-03-08");
    double hours = json_number_value(json_object_get(week, "away_hours"));

    json_decref(week);
    return hours;
}

static void a_poll_that_fails_for_an_hour_is_told_once_and_closed(void **state)
{
    Deaf deaf = deaf_poll();

    (void)state;
    to(&deaf, "2026-03-02T09:58:00Z");
    assert_int_equal(alerts(&deaf, "alerts"), 0);
    to(&deaf, "2026-03-02T10:01:00Z");
    assert_int_equal(alerts(&deaf, "alerts"), 1);
    json_t *list = site_ask(deaf.site, "alerts");
    look_is(json_array_get(list, 0), "class", "today");
    look_is(json_array_get(json_object_get(json_array_get(list, 0), "reasons"), 0), "value",
            "texts");
    json_decref(list);
    assert_true(stand_in_sent(deaf.gateway, OKAFOR, "a gateway fails (texts)", NULL) >= 1);
    to(&deaf, "2026-03-02T15:00:00Z");
    assert_int_equal(alerts(&deaf, "alerts --all"), 1);
    site_replace(deaf.site, deaf.dead, deaf.live);
    site_reload(deaf.site);
    to(&deaf, "2026-03-02T15:15:00Z");
    assert_int_equal(alerts(&deaf, "alerts"), 0);
    assert_int_equal(alerts(&deaf, "alerts --all"), 1);
    assert_float_equal(away_hours(&deaf), 6, 0.25);
    deaf_close(&deaf);
}

static void the_digest_counts_a_time_that_is_not_over(void **state)
{
    Deaf deaf = deaf_poll();

    (void)state;
    to(&deaf, "2026-03-03T09:30:00Z");
    assert_float_equal(away_hours(&deaf), 24.5, 1.2);
    deaf_close(&deaf);
}

/* An alert is open from before the start: it is neither opened again nor left open. */
static void a_restart_neither_tells_it_again_nor_forgets_it(void **state)
{
    Deaf deaf = deaf_poll();

    (void)state;
    to(&deaf, "2026-03-02T10:30:00Z");
    assert_int_equal(site_stop(deaf.site), 0);
    assert_int_equal(site_start(deaf.site, "2026-03-02T10:31:00Z"), 0);
    to(&deaf, "2026-03-02T12:30:00Z");
    assert_int_equal(alerts(&deaf, "alerts --all"), 1);
    assert_int_equal(site_stop(deaf.site), 0);
    site_replace(deaf.site, deaf.dead, deaf.live);
    assert_int_equal(site_start(deaf.site, "2026-03-02T12:31:00Z"), 0);
    to(&deaf, "2026-03-02T12:35:00Z");
    assert_int_equal(alerts(&deaf, "alerts"), 0);
    assert_float_equal(away_hours(&deaf), 3.5, 0.1);
    deaf_close(&deaf);
}

static void a_mailbox_that_fails_for_an_hour_is_told(void **state)
{
    Deaf deaf = deaf_new();

    (void)state;
    site_use_mailbox(deaf.site, deaf.gateway, SPEAKS_FORM, site_free_port(), site_free_port());
    deaf_open(&deaf);
    to(&deaf, "2026-03-02T10:05:00Z");
    assert_int_equal(alerts(&deaf, "alerts"), 1);
    assert_true(stand_in_sent(deaf.gateway, OKAFOR, "a gateway fails (post)", NULL) >= 1);
    deaf_close(&deaf);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_poll_that_fails_for_an_hour_is_told_once_and_closed),
        cmocka_unit_test(the_digest_counts_a_time_that_is_not_over),
        cmocka_unit_test(a_restart_neither_tells_it_again_nor_forgets_it),
        cmocka_unit_test(a_mailbox_that_fails_for_an_hour_is_told),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
