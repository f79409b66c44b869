/* SPDX-License-Identifier: Apache-2.0 */
/* What comes in on an alert that somebody has taken: whoever took it hears of it. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "tests/support/json_look.h"
#include "tests/support/solo.h"

#define OKAFOR "+442079460190"
#define LINDQVIST "+442079460191"
#define MORE "MORE has come in on A.N."

static void take(Solo *clinic)
{
    json_t *list = site_ask(clinic->site, "alerts");
    g_autofree char *code = look_copy(json_array_get(list, 0), "code");

    json_decref(list);
    json_decref(site_ask(clinic->site, "alert take %s --by 'R. Okafor'", code));
}

/* Ada has been asked at half past eight, has answered, and R. Okafor has taken what came of it. */
static Solo taken(const char *answer, const char *class)
{
    Solo clinic = solo_open(SPEAKS_FORM, "08:30");

    solo_to(&clinic, "2026-03-02T08:40:00Z");
    solo_says(&clinic, answer, "2026-03-02T08:50:00Z");
    assert_int_equal(solo_alerts(&clinic, "pain", class), 1);
    take(&clinic);
    return clinic;
}

static int hears(Solo *clinic, const char *phone, const char *words)
{
    return stand_in_sent(clinic->gateway, phone, words, NULL);
}

static void who_took_it_hears_that_it_is_worse(void **state)
{
    Solo clinic = taken("Done 3, pain 8", "now");

    (void)state;
    assert_int_equal(hears(&clinic, OKAFOR, MORE), 0);
    solo_says(&clinic, "now it is pain 9", "2026-03-02T09:10:00Z");
    assert_int_equal(hears(&clinic, OKAFOR, MORE), 1);
    assert_int_equal(hears(&clinic, LINDQVIST, NULL), 0);
    assert_int_equal(solo_alerts(&clinic, "pain", "now"), 1); /* one matter, one alert */
    solo_says(&clinic, "pain 9, still", "2026-03-02T09:20:00Z");
    assert_int_equal(hears(&clinic, OKAFOR, MORE), 2);
    solo_close(&clinic);
}

/* A bare 8 counts as pain; that it was the stretch is for whoever took it to weigh. */
static void who_took_it_hears_that_it_was_the_stretch(void **state)
{
    Solo clinic = taken("8", "now");

    (void)state;
    solo_says(&clinic, "stretch 8", "2026-03-02T09:10:00Z");
    assert_int_equal(hears(&clinic, OKAFOR, MORE), 1);
    json_t *client = site_ask(clinic.site, "client show %s", clinic.ada);
    assert_true(json_array_size(json_object_get(client, "bars")) > 0); /* and still on hold */
    json_decref(client);
    solo_close(&clinic);
}

/* On a stepped clock both took it within one instant. */
static void who_takes_it_over_has_it(void **state)
{
    Solo clinic = taken("8", "now");
    json_t *list = site_ask(clinic.site, "alerts");
    g_autofree char *code = look_copy(json_array_get(list, 0), "code");

    (void)state;
    json_decref(list);
    json_t *taken = site_ask(clinic.site, "alert take %s --by 'J. Lindqvist'", code);
    look_is(taken, "taken_by", "J. Lindqvist");
    json_decref(taken);
    solo_close(&clinic);
}

/* Nobody answers: the second on the list hears that it is for now, and that it is passed on. */
static void who_is_called_next_hears_how_urgent_it_is(void **state)
{
    Solo clinic = solo_open(SPEAKS_FORM, "08:30");

    (void)state;
    solo_to(&clinic, "2026-03-02T08:40:00Z");
    solo_says(&clinic, "chest feels tight", "2026-03-02T08:50:00Z");
    solo_to(&clinic, "2026-03-02T10:00:00Z");
    assert_true(hears(&clinic, LINDQVIST, "NOW, AGAIN, nobody has taken it") > 0);
    solo_close(&clinic);
}

/* What is for today waits for the clinic's hours. */
static void more_on_a_matter_for_today_waits_for_the_morning(void **state)
{
    Solo clinic = solo_open(SPEAKS_FORM, "17:00");

    (void)state;
    solo_to(&clinic, "2026-03-02T17:01:00Z");
    solo_says(&clinic, "Done 3, pain 5", "2026-03-02T17:10:00Z");
    take(&clinic);
    solo_says(&clinic, "pain 5 still", "2026-03-02T17:20:00Z");
    assert_int_equal(hears(&clinic, OKAFOR, MORE), 1);
    solo_to(&clinic, "2026-03-02T18:00:00Z");
    solo_says(&clinic, "pain 6", "2026-03-02T18:30:00Z");
    assert_int_equal(hears(&clinic, OKAFOR, MORE), 1);
    solo_to(&clinic, "2026-03-03T08:29:00Z");
    assert_int_equal(hears(&clinic, OKAFOR, MORE), 1);
    solo_to(&clinic, "2026-03-03T08:31:00Z");
    assert_int_equal(hears(&clinic, OKAFOR, MORE), 2);
    solo_close(&clinic);
}

/* Nobody can be told: it is passed on at once, not after the two hours that the taker had. */
static void who_took_it_has_left_the_duty_list(void **state)
{
    Solo clinic = taken("Done 3, pain 8", "now");
    g_autofree char *path = g_build_filename(clinic.site->clinic, "clinic.yaml", NULL);
    g_autofree char *yaml = NULL;

    (void)state;
    assert_true(g_file_get_contents(path, &yaml, NULL, NULL));
    char *line = strstr(yaml, "  - {name: R. Okafor");
    assert_non_null(line);
    memmove(line, strchr(line, '\n') + 1, strlen(strchr(line, '\n')));
    site_settings(clinic.site, yaml);
    site_reload(clinic.site);
    assert_int_equal(hears(&clinic, LINDQVIST, NULL), 0);
    solo_says(&clinic, "now it is pain 9", "2026-03-02T09:10:00Z");
    assert_int_equal(hears(&clinic, LINDQVIST, "TAKE "), 1);
    solo_close(&clinic);
}

/* Taken at half past four, no outcome by half past six: the clinic is closed, and opens with a call. */
static void a_matter_for_today_without_an_outcome_is_passed_on_as_the_clinic_opens(void **state)
{
    Solo clinic = solo_open(SPEAKS_FORM, "16:00");

    (void)state;
    solo_to(&clinic, "2026-03-02T16:01:00Z");
    solo_says(&clinic, "Done 3, pain 5", "2026-03-02T16:10:00Z");
    solo_to(&clinic, "2026-03-02T16:40:00Z");
    take(&clinic);
    solo_to(&clinic, "2026-03-03T08:29:00Z");
    assert_int_equal(hears(&clinic, LINDQVIST, NULL), 0);
    solo_to(&clinic, "2026-03-03T08:31:00Z");
    assert_int_equal(hears(&clinic, LINDQVIST, "Taken, but no outcome yet"), 1);
    solo_close(&clinic);
}

/* It goes on being told, but not every two hours to one who stops reading: once a day of the clinic's, however often osierd is
 * started. */
static void a_matter_for_today_that_stays_without_an_outcome_is_told_once_a_day(void **state)
{
    static const struct {
        const char *at;
        int told; /* so often until then */
    } THEN[] = {
        {"2026-03-02T11:31:00Z", 1}, {"2026-03-02T16:00:00Z", 1}, {"2026-03-03T08:29:00Z", 1},
        {"2026-03-03T08:31:00Z", 2}, {"2026-03-04T08:29:00Z", 2}, {"2026-03-04T08:31:00Z", 3},
    };
    Solo clinic = taken("Done 3, pain 5", "today");

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(THEN); i++) {
        solo_to(&clinic, THEN[i].at);
        site_kill(clinic.site);
        assert_int_equal(site_start(clinic.site, THEN[i].at), 0);
        assert_int_equal(hears(&clinic, LINDQVIST, "Taken, but no outcome yet"), THEN[i].told);
    }
    solo_close(&clinic);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(who_took_it_hears_that_it_is_worse),
        cmocka_unit_test(who_took_it_hears_that_it_was_the_stretch),
        cmocka_unit_test(who_takes_it_over_has_it),
        cmocka_unit_test(who_is_called_next_hears_how_urgent_it_is),
        cmocka_unit_test(more_on_a_matter_for_today_waits_for_the_morning),
        cmocka_unit_test(a_matter_for_today_without_an_outcome_is_passed_on_as_the_clinic_opens),
        cmocka_unit_test(a_matter_for_today_that_stays_without_an_outcome_is_told_once_a_day),
        cmocka_unit_test(who_took_it_has_left_the_duty_list),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
