/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/relay/recorder.h"

#include "daemon/jobs/ahead.h"
#include "daemon/jobs/gateway_matter.h"

#define GATHER_MS 25
#define GATHER_MOST 256

struct Recorder {
    Desk *desk;
    void (*recorded)(void *context);
    void *context;
    GPtrArray *outcomes; /* of Outcome */
    GPtrArray *sick;     /* of names */
    bool settling;
    bool blocked;       /* the store kept nothing: what waits, waits for it and not for its turn */
    int64_t flushed_us; /* real time of the last flush */
    Timer *timer;
};

typedef struct {
    Recorder *recorder;
    GPtrArray *outcomes;
    GPtrArray *sick;
} Errand;

static void outcome_free(void *data)
{
    Outcome *outcome = data;

    claim_free(outcome->claim);
    settlement_clear(&outcome->settlement);
    g_free(outcome);
}

/* Of one gateway: a batch is hardly ever of two. */
static void look_ahead(Job *job, const GPtrArray *outcomes)
{
    g_autoptr(GPtrArray) messages = g_ptr_array_new(), gateway_ids = g_ptr_array_new();
    const char *gateway = NULL;

    for (guint i = 0; i < outcomes->len; i++) {
        const Outcome *outcome = outcomes->pdata[i];
        g_ptr_array_add(messages, outcome->claim->id);
        if (gateway == NULL) gateway = outcome->claim->gateway;
        if (g_strcmp0(gateway, outcome->claim->gateway) == 0)
            g_ptr_array_add(gateway_ids, outcome->settlement.gateway_id);
    }
    ahead_of_fates(job, messages, gateway, gateway_ids);
}

static bool settle_job(Job *job, void *context)
{
    Errand *errand = context;

    look_ahead(job, errand->outcomes);
    for (guint i = 0; i < errand->outcomes->len; i++)
        settle_outcome(job, errand->outcomes->pdata[i]);
    for (guint i = 0; i < errand->sick->len; i++)
        gateway_matter_open(job, errand->sick->pdata[i], GATEWAY_SICK);
    return true;
}

/* Puts what could not be kept back in front of what came since. */
static void take_back(GPtrArray **waiting, GPtrArray **failed)
{
    g_ptr_array_extend_and_steal(*failed, *waiting);
    *waiting = g_steal_pointer(failed);
}

static void settle_done(StoreStatus status, void *context)
{
    Errand *errand = context;
    Recorder *recorder = errand->recorder;

    recorder->settling = false;
    if (store_passes(status)) {
        recorder->blocked = true;
        take_back(&recorder->outcomes, &errand->outcomes);
        take_back(&recorder->sick, &errand->sick);
    }
    g_clear_pointer(&errand->outcomes, g_ptr_array_unref);
    g_clear_pointer(&errand->sick, g_ptr_array_unref);
    g_free(errand);
    if (status == STORE_OK) {
        recorder->blocked = false;
        recorder_flush(recorder);
        recorder->recorded(recorder->context);
    }
}

void recorder_flush(Recorder *recorder)
{
    if (recorder->settling || (recorder->outcomes->len == 0 && recorder->sick->len == 0)) return;
    Errand *errand = g_new0(Errand, 1);
    *errand =
        (Errand){.recorder = recorder, .outcomes = recorder->outcomes, .sick = recorder->sick};
    recorder->outcomes = g_ptr_array_new_with_free_func(outcome_free);
    recorder->sick = g_ptr_array_new_with_free_func(g_free);
    recorder->settling = true;
    recorder->flushed_us = g_get_monotonic_time();
    timer_set(recorder->timer, CLOCK_NEVER);
    desk_submit(recorder->desk, settle_job, settle_done, errand);
}

void recorder_flush_soon(Recorder *recorder, bool last)
{
    bool sparse = g_get_monotonic_time() - recorder->flushed_us > GATHER_MS * 1000;

    if (last || sparse || recorder->outcomes->len >= GATHER_MOST)
        recorder_flush(recorder);
    else if (timer_at(recorder->timer) == CLOCK_NEVER)
        timer_set(recorder->timer, clock_now(desk_clock(recorder->desk)) + GATHER_MS);
}

static void on_timer(void *context)
{
    recorder_flush(context);
}

void recorder_add(Recorder *recorder, Claim *claim, Settlement settlement, OutcomeManner manner)
{
    Outcome *outcome = g_new0(Outcome, 1);

    *outcome = (Outcome){.claim = claim, .settlement = settlement, .manner = manner};
    g_ptr_array_add(recorder->outcomes, outcome);
}

void recorder_sick(Recorder *recorder, const char *gateway)
{
    g_ptr_array_add(recorder->sick, g_strdup(gateway));
}

void recorder_unblock(Recorder *recorder)
{
    if (!recorder->blocked) return;
    recorder->blocked = false;
    recorder_flush(recorder);
}

int recorder_waiting(const Recorder *recorder)
{
    /* What gathers waits for a timer, and timers count nothing. */
    bool gathers = timer_at(recorder->timer) != CLOCK_NEVER;

    return recorder->blocked || gathers ? 0 : (int)recorder->outcomes->len;
}

Recorder *recorder_new(Desk *desk, void (*recorded)(void *context), void *context)
{
    Recorder *recorder = g_new0(Recorder, 1);

    recorder->desk = desk;
    recorder->recorded = recorded;
    recorder->context = context;
    recorder->outcomes = g_ptr_array_new_with_free_func(outcome_free);
    recorder->sick = g_ptr_array_new_with_free_func(g_free);
    recorder->timer = timer_new(desk_clock(desk), on_timer, recorder);
    return recorder;
}

void recorder_free(Recorder *recorder)
{
    if (recorder == NULL) return;
    timer_free(recorder->timer);
    g_ptr_array_unref(recorder->outcomes);
    g_ptr_array_unref(recorder->sick);
    g_free(recorder);
}
