/* SPDX-License-Identifier: Apache-2.0 */
/* What becomes of a message whose claim has an outcome: also where it was claimed again in the meantime. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "adapters/store/store_memory.h"
#include "daemon/jobs/settle.h"

#define MESSAGE "ABB2C23E5B8EEB8CC4FAF1FE06F3E19D"
#define FIRST_MS 2000
#define AGAIN_MS 662000

typedef struct {
    Clinic clinic;
    Zones *zones;
    Store *store;
} Scene;

static int set_up(void **state)
{
    Scene *scene = g_new0(Scene, 1);

    scene->clinic.zone = (char *)"Europe/London";
    scene->clinic.language = (char *)"en";
    scene->clinic.gateways = g_ptr_array_new();
    scene->zones = zones_new();
    scene->store = store_memory_new("00000000000000a1", 1000);
    *state = scene;
    return 0;
}

static int tear_down(void **state)
{
    Scene *scene = *state;

    scene->store->close(scene->store);
    zones_free(scene->zones);
    g_ptr_array_unref(scene->clinic.gateways);
    g_free(scene);
    return 0;
}

static Job job_of(Scene *scene, Tx *tx)
{
    return (Job){.tx = tx,
                 .clinic = &scene->clinic,
                 .zones = scene->zones,
                 .now_ms = AGAIN_MS,
                 .sender = true};
}

static void run(Scene *scene, StoreJob *job)
{
    store_submit(scene->store, AGAIN_MS, job, NULL, scene);
    store_memory_pump(scene->store);
}

/* A message that was refused once, waited, and is being written again. */
static bool write_again(Tx *tx, void *context)
{
    g_autoptr(Row) row = row_new(TABLE_OUTBOX);

    (void)context;
    row_set_text(row, OUTBOX_ID, MESSAGE);
    row_set_text(row, OUTBOX_TO, "desk@clinic.example");
    row_set_text(row, OUTBOX_CHANNEL, "email");
    row_set_text(row, OUTBOX_KIND, "digest");
    row_set_text(row, OUTBOX_TEXT, "the week");
    row_set_text(row, OUTBOX_STATE, fate_name(FATE_WRITING));
    row_set_int(row, OUTBOX_AT, FIRST_MS);
    row_set_int(row, OUTBOX_ATTEMPTS, 2);
    row_set_int(row, OUTBOX_WROTE_AT, AGAIN_MS);
    tx_put(tx, row);
    return true;
}

static void settle(Scene *scene, Tx *tx, int64_t claimed_ms, Fate fate)
{
    Job job = job_of(scene, tx);
    Claim claim = {.id = (char *)MESSAGE, .claimed_ms = claimed_ms};
    Outcome outcome = {.claim = &claim, .settlement = {.fate = fate, .retry_after_s = -1}};

    settle_outcome(&job, &outcome);
}

static bool settle_first(Tx *tx, void *context)
{
    settle(context, tx, FIRST_MS, FATE_REFUSED);
    g_autoptr(Row) row = tx_get_text(tx, TABLE_OUTBOX, MESSAGE);
    assert_non_null(row);
    assert_string_equal(row_text(row, OUTBOX_STATE), fate_name(FATE_WRITING));
    assert_null(tx_get_text(tx, TABLE_MESSAGE, MESSAGE));
    return true;
}

static bool settle_second(Tx *tx, void *context)
{
    settle(context, tx, AGAIN_MS, FATE_ACCEPTED);
    g_autoptr(Row) message = tx_get_text(tx, TABLE_MESSAGE, MESSAGE);
    assert_null(tx_get_text(tx, TABLE_OUTBOX, MESSAGE));
    assert_non_null(message);
    assert_string_equal(row_text(message, MESSAGE_FATE), fate_name(FATE_ACCEPTED));
    return true;
}

/* The refusal of the first claim is late: the message, which may be on its way at this moment, stays the second one's to settle. */
static void a_claim_that_was_followed_by_another_has_no_say(void **state)
{
    run(*state, write_again);
    run(*state, settle_first);
    run(*state, settle_second);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(a_claim_that_was_followed_by_another_has_no_say, set_up,
                                        tear_down),
    };

    return cmocka_run_group_tests_name("settle", tests, NULL, NULL);
}
