/* SPDX-License-Identifier: Apache-2.0 */
/* No room on the device, seen by who sits at the desk: whom to ring can be looked up from the very first call on, that nothing
 * can be written is said, and nothing is changed. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "core/calendar/date.h"
#include "tests/sim/clinic.h"

static SimClinic *begin(void)
{
    SimSetup setup = {.seed = 1};

    assert_true(instant_parse("2026-03-02T08:00:00Z", &setup.start_ms));
    SimClinic *clinic = sim_clinic_new(&setup);
    sim_start(clinic);
    return clinic;
}

static int posted(SimClinic *clinic, const char *path, json_t *body, json_t **answer)
{
    int status;
    json_t *heard = sim_call(clinic, "POST", path, body, &status);

    if (answer != NULL)
        *answer = heard;
    else
        json_decref(heard);
    return status;
}

static char *text_posted(SimClinic *clinic, const char *path, json_t *body, const char *field)
{
    json_t *answer;

    assert_int_equal(posted(clinic, path, body, &answer), 200);
    char *text = g_strdup(json_string_value(json_object_get(answer, field)));
    json_decref(answer);
    return text;
}

static json_t *got(SimClinic *clinic, const char *path)
{
    int status;
    json_t *answer = sim_call(clinic, "GET", path, NULL, &status);

    assert_int_equal(status, 200);
    return answer;
}

static int status_of(SimClinic *clinic, const char *path)
{
    int status;

    json_decref(sim_call(clinic, "GET", path, NULL, &status));
    return status;
}

static char *alert_of_ada(SimClinic *clinic)
{
    g_autofree char *ada = text_posted(
        clinic, "/clients",
        json_pack("{s:s, s:s, s:s, s:s, s:s, s:s}", "name", "Ada Marsh", "zone", "Europe/London",
                  "language", "en", "channel", "sms", "phone", "+442079460001", "consent",
                  "sms: signed form, R. Okafor, 2026-03-01"),
        "client");
    g_autofree char *path = g_strdup_printf("/clients/%s/alerts", ada);

    return text_posted(clinic, path,
                       json_pack("{s:s, s:s, s:s}", "by", "J. Lindqvist", "kind", "heart", "words",
                                 "chest pain, she said"),
                       "alert");
}

static void whom_to_ring_is_known_without_room(void **state)
{
    SimClinic *clinic = begin();
    g_autofree char *alert = alert_of_ada(clinic);
    g_autofree char *take = g_strdup_printf("/alerts/%s/take", alert);

    (void)state;
    device_fill(clinic->device, 1000000);
    for (int i = 0; i < 2; i++) {
        json_t *calls = got(clinic, "/calls");
        assert_int_equal(json_array_size(calls), 1);
        json_decref(calls);
        json_t *standing = got(clinic, "/status");
        assert_string_equal(json_string_value(json_object_get(standing, "state")), "ill");
        assert_true(json_is_false(json_object_get(json_object_get(standing, "store"), "writes")));
        json_decref(standing);
        assert_int_equal(posted(clinic, take, json_pack("{s:s}", "by", "R. Okafor"), NULL), 503);
        assert_int_equal(status_of(clinic, "/healthz"), 503);
        assert_int_equal(status_of(clinic, "/metrics"), 200);
    }
    device_fill(clinic->device, 0);
    json_t *alerts = got(clinic, "/alerts");
    assert_string_equal(json_string_value(json_object_get(json_array_get(alerts, 0), "state")),
                        "open");
    json_decref(alerts);
    assert_int_equal(posted(clinic, take, json_pack("{s:s}", "by", "R. Okafor"), NULL), 200);
    sim_stop(clinic);
    sim_clinic_free(clinic);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(whom_to_ring_is_known_without_room)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
