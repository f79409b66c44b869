/* SPDX-License-Identifier: Apache-2.0 */
/* The one safety text for somebody who had stopped. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "adapters/store/find_work.h"
#include "daemon/control/handlers.h"
#include "daemon/jobs/reply.h"
#include "tests/support/scene.h"

#define ADA "+442079460001"

typedef struct {
    char *ada;
    const char *says;
} Phone;

static bool enrol(Job *job, void *context)
{
    ((Phone *)context)->ada =
        scene_call(job, handle_client_add, NULL,
                   json_pack("{s:s, s:s, s:s}", "name", "Ada N.", "phone", ADA, "consent",
                             "sms: signed form, R. Okafor, 2026-03-01"));
    return true;
}

static bool hear(Job *job, void *context)
{
    Incoming incoming = {
        .from = (char *)ADA, .text = (char *)((Phone *)context)->says, .at_ms = job->now_ms};

    assert_true(reply_store(job, "texts", CHANNEL_SMS, &incoming));
    assert_int_equal(reply_read_stored(job, 10), 1);
    return true;
}

/* As it comes from a replica that has not heard of the first one. */
static bool stop_again(Job *job, void *context)
{
    tx_append(job->tx, "client.stop", ((Phone *)context)->ada, "R. Okafor", NULL,
              json_pack("{s:I, s:s, s:s}", "at", (json_int_t)job->now_ms, "why", "asked for it",
                        "by", "R. Okafor"));
    return true;
}

static bool one_safety_text(Job *job, void *context)
{
    g_autoptr(GPtrArray) waiting = find_outbox(job->tx, "waiting");
    int safety = 0;

    (void)context;
    for (guint i = 0; i < waiting->len; i++)
        safety += strcmp(row_text(waiting->pdata[i], OUTBOX_KIND), "safety") == 0;
    assert_int_equal(safety, 1);
    return true;
}

static void a_stop_that_is_written_down_twice_is_one(void **state)
{
    Scene *scene = scene_new("", "2026-03-02T09:00:00Z");
    Phone phone = {.says = "STOP"};

    (void)state;
    scene_at(scene, "2026-03-02T09:01:00Z", enrol, &phone);
    scene_at(scene, "2026-03-02T09:02:00Z", hear, &phone);
    phone.says = "I fell";
    scene_at(scene, "2026-03-02T09:03:00Z", hear, &phone);
    scene_at(scene, "2026-03-02T09:04:00Z", one_safety_text, NULL);
    scene_at(scene, "2026-03-02T09:05:00Z", stop_again, &phone);
    phone.says = "I fell again";
    scene_at(scene, "2026-03-02T09:06:00Z", hear, &phone);
    scene_at(scene, "2026-03-02T09:07:00Z", one_safety_text, NULL);
    g_free(phone.ada);
    scene_free(scene);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_stop_that_is_written_down_twice_is_one),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
