/* SPDX-License-Identifier: Apache-2.0 */
/* A run of missed days, whatever lies between them. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "adapters/store/find_record.h"
#include "core/ledger/id.h"
#include "daemon/control/handlers.h"
#include "daemon/jobs/alert.h"
#include "tests/support/scene.h"

#define SLOTS 4

static void close_day(Job *job, const char *client, Day day, const char *as)
{
    g_autofree char *date = day_format(day);

    for (int slot = 1; slot <= SLOTS; slot++) {
        g_autofree char *session = id_session(client, date, slot);
        tx_append(job->tx, "session.closed", client, "osier", NULL,
                  json_pack("{s:s, s:s, s:i, s:s, s:s, s:I}", "session", session, "date", date,
                            "slot", slot, "as", as, "why", "test", "at", (json_int_t)job->now_ms));
    }
}

/* Two days missed, three weeks on hold with four sessions a day, and one more day missed: that makes three. */
static bool miss(Job *job, void *context)
{
    g_autofree char *ada =
        scene_call(job, handle_client_add, NULL,
                   json_pack("{s:s, s:s, s:s}", "name", "Ada N.", "phone", "+442079460001",
                             "consent", "sms: signed form, R. Okafor, 2026-03-01"));
    Day first = zone_local(job_clinic_zone(job), job->now_ms).day - 30;

    (void)context;
    for (int i = 0; i < 24; i++)
        close_day(job, ada, first + i, i < 2 || i == 23 ? "silent" : "excused");
    alert_missed_run(job, ada, "test");
    g_autoptr(Row) alert = find_open_alert(job->tx, ada, "missed-run");
    assert_non_null(alert);
    return true;
}

static void days_on_hold_hide_no_run(void **state)
{
    Scene *scene = scene_new("", "2026-03-02T09:00:00Z");

    (void)state;
    scene_at(scene, "2026-03-02T09:01:00Z", miss, NULL);
    scene_free(scene);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(days_on_hold_hide_no_run),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
