/* SPDX-License-Identifier: Apache-2.0 */
/* The clinic and its replicas have settings, and are nobody: what concerns them, or a stranger, is never told as a client's. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "adapters/store/find_people.h"
#include "adapters/store/find_record.h"
#include "adapters/store/find_work.h"
#include "daemon/control/handlers.h"
#include "daemon/jobs/alert.h"
#include "daemon/jobs/digest.h"
#include "daemon/jobs/reply.h"
#include "daemon/jobs/takeover.h"
#include "daemon/sync/introduction.h"
#include "tests/support/scene.h"

#define STRANGER "+442079460777"
#define OTHER "00000000000000b2"

static bool take_duty(Job *job, void *context)
{
    (void)context;
    assert_int_equal(takeover_take(job, "R. Okafor"), 1);
    return true;
}

static bool pair_a_laptop(Job *job, void *context)
{
    (void)context;
    introduction_settle_duty(job, true);
    g_autofree char *duty = find_setting(job->tx, "clinic", "sender");
    assert_non_null(duty);
    return true;
}

static bool name_replicas(Job *job, void *context)
{
    (void)context;
    tx_append(job->tx, "replica.set", OTHER, "osier", NULL,
              json_pack("{s:{s:s}}", "fields", "name", "laptop"));
    g_autoptr(Person) clinic = person_load(job, "clinic");
    g_autoptr(Person) replica = person_load(job, OTHER);
    assert_null(clinic);
    assert_null(replica);
    return true;
}

static bool hear_a_sign(Job *job, void *context)
{
    Incoming incoming = {
        .from = (char *)STRANGER, .text = (char *)"I have chest pain", .at_ms = job->now_ms};

    (void)context;
    assert_true(reply_store(job, "texts", CHANNEL_SMS, &incoming));
    assert_int_equal(reply_read_stored(job, 10), 1);
    return true;
}

static bool lose_a_gateway(Job *job, void *context)
{
    json_t *reasons = json_array();

    (void)context;
    json_array_append_new(reasons, reason_words("refused several people", "texts", NULL));
    g_free(alert_open(
        job, NULL,
        &(Opening){.kind = "gateway", .class = ALERT_TODAY, .cause = "texts", .reasons = reasons}));
    json_decref(reasons);
    return true;
}

/* context: how the only call that waits must begin. */
static bool call(Job *job, void *context)
{
    g_autoptr(GPtrArray) alerts = find_alerts(job->tx, "clinic", false);

    assert_int_equal(alerts->len, 1);
    alert_pass_on(job, row_text(alerts->pdata[0], ALERT_ID));
    g_autoptr(GPtrArray) waiting = find_outbox(job->tx, "waiting");
    assert_int_equal(waiting->len, 1);
    const Row *text = waiting->pdata[0];
    if (!g_str_has_prefix(row_text(text, OUTBOX_TEXT), context))
        fail_msg("%s", row_text(text, OUTBOX_TEXT));
    assert_true(row_is_null(text, OUTBOX_CLIENT));
    return true;
}

static bool is_listed_without_a_name(Job *job, void *context)
{
    Call listed = {0};
    g_autoptr(GPtrArray) clients = find_clients(job->tx);

    (void)context;
    assert_true(handle_alert_list(job, &listed));
    assert_int_equal(json_array_size(listed.answer), 1);
    assert_true(json_is_null(json_object_get(json_array_get(listed.answer, 0), "name")));
    json_decref(listed.answer);
    listed.answer = NULL;
    assert_true(handle_calls(job, &listed));
    assert_int_equal(json_array_size(listed.answer), 0);
    json_decref(listed.answer);
    assert_int_equal(clients->len, 0);
    return true;
}

static bool is_nobody_to_ring(Job *job, void *context)
{
    Day end;

    (void)context;
    assert_true(day_parse("2026-03-03", &end));
    Digest *digest = digest_gather(job, end);
    assert_int_equal(digest->calls->len, 0);
    digest_free(digest);
    return true;
}

static void tell_as(JobRun *before, JobRun *what, const char *begins)
{
    Scene *scene = scene_new("", "2026-03-02T09:00:00Z");

    scene_at(scene, "2026-03-02T09:00:00Z", before, NULL);
    scene_at(scene, "2026-03-02T09:01:00Z", name_replicas, NULL);
    scene_at(scene, "2026-03-02T09:02:00Z", what, NULL);
    scene_at(scene, "2026-03-02T09:03:00Z", call, (void *)begins);
    scene_at(scene, "2026-03-02T09:04:00Z", is_listed_without_a_name, NULL);
    scene_at(scene, "2026-03-02T09:05:00Z", is_nobody_to_ring, NULL);
    scene_free(scene);
}

static void a_strangers_sign_after_the_duty_was_taken(void **state)
{
    (void)state;
    tell_as(take_duty, hear_a_sign, "NOW ? ...777: heart or breathing sign");
}

static void a_strangers_sign_after_a_laptop_was_paired(void **state)
{
    (void)state;
    tell_as(pair_a_laptop, hear_a_sign, "NOW ? ...777: heart or breathing sign");
}

static void a_gateway_that_fails_after_the_duty_was_taken(void **state)
{
    (void)state;
    tell_as(take_duty, lose_a_gateway, "TODAY - osier: ");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_strangers_sign_after_the_duty_was_taken),
        cmocka_unit_test(a_strangers_sign_after_a_laptop_was_paired),
        cmocka_unit_test(a_gateway_that_fails_after_the_duty_was_taken),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
