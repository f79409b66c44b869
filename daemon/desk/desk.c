/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/desk/desk.h"

#include "adapters/store/find_work.h"

#define FULL_WAIT_MS (30 * SECOND_MS)

struct Desk {
    Store *store;
    Clock *clock;
    Random *random;
    Settings *settings;
    Zones *zones; /* used on the store thread alone */
    DeskChanged *changed;
    DeskFailed *failed;
    void *watch_context;
    bool full;
    bool broken;
    GQueue held; /* of Errand: to be tried again when there is room */
    Timer *again;
};

typedef struct {
    Desk *desk;
    Settings *settings;
    int64_t now_ms;
    JobRun *run;
    JobDone *done;
    void *context;
    bool surely;
    DeskNext next;
} Errand;

static void try_again(void *context);

static void errand_free(Errand *errand)
{
    settings_unref(errand->settings);
    g_free(errand);
}

Desk *desk_new(Store *store, Clock *clock, Random *random, Settings *settings)
{
    Desk *desk = g_new0(Desk, 1);

    desk->store = store;
    desk->clock = clock;
    desk->random = random;
    desk->settings = settings_ref(settings);
    desk->zones = zones_new();
    g_queue_init(&desk->held);
    desk->again = timer_new(clock, try_again, desk);
    return desk;
}

void desk_give_up(Desk *desk)
{
    Errand *errand;

    timer_set(desk->again, CLOCK_NEVER);
    while ((errand = g_queue_pop_head(&desk->held)) != NULL) {
        if (errand->done != NULL) errand->done(STORE_FULL, errand->context);
        errand_free(errand);
    }
}

void desk_free(Desk *desk)
{
    if (desk == NULL) return;
    desk_give_up(desk);
    timer_free(desk->again);
    settings_unref(desk->settings);
    zones_free(desk->zones);
    g_free(desk);
}

void desk_watch(Desk *desk, DeskChanged *changed, DeskFailed *failed, void *context)
{
    desk->changed = changed;
    desk->failed = failed;
    desk->watch_context = context;
}

void desk_set_settings(Desk *desk, Settings *settings)
{
    settings_unref(desk->settings);
    desk->settings = settings_ref(settings);
}

Settings *desk_settings(Desk *desk)
{
    return desk->settings;
}

Clock *desk_clock(Desk *desk)
{
    return desk->clock;
}

Random *desk_random(Desk *desk)
{
    return desk->random;
}

Store *desk_store(Desk *desk)
{
    return desk->store;
}

bool desk_is_full(const Desk *desk)
{
    return desk->full;
}

GTimeZone *job_zone(Job *job, const char *id)
{
    GTimeZone *zone = zones_get(job->zones, id);

    return zone != NULL ? zone : job_clinic_zone(job);
}

GTimeZone *job_clinic_zone(Job *job)
{
    GTimeZone *zone = zones_get(job->zones, job->clinic->zone);

    g_assert(zone != NULL);
    return zone;
}

static bool run_errand(Tx *tx, void *context)
{
    Errand *errand = context;
    Job job = {.tx = tx,
               .settings = errand->settings,
               .clinic = settings_clinic(errand->settings),
               .zones = errand->desk->zones,
               .random = errand->desk->random,
               .now_ms = errand->now_ms,
               .made_up = clock_is_virtual(errand->desk->clock)};
    bool kept = errand->run(&job, errand->context);

    if (kept) {
        errand->next.due_ms = find_next_due(tx);
        errand->next.send_ms[0] = find_next_send(tx, "sms");
        errand->next.send_ms[1] = find_next_send(tx, "email");
    }
    return kept;
}

static void finish(StoreStatus status, void *context)
{
    Errand *errand = context;
    Desk *desk = errand->desk;

    if (status == STORE_OK || status == STORE_UNDONE) desk->full = false;
    if (status == STORE_FULL) desk->full = true;
    if (status == STORE_FULL && errand->surely) {
        g_queue_push_tail(&desk->held, errand);
        if (timer_at(desk->again) == CLOCK_NEVER)
            timer_set(desk->again, clock_now(desk->clock) + FULL_WAIT_MS);
        return;
    }
    if (errand->done != NULL) errand->done(status, errand->context);
    if (status == STORE_OK && desk->changed != NULL)
        desk->changed(&errand->next, desk->watch_context);
    if (status == STORE_FAILED && !desk->broken) {
        desk->broken = true;
        if (desk->failed != NULL)
            desk->failed(desk->store->problem(desk->store), desk->watch_context);
    }
    errand_free(errand);
}

static void try_again(void *context)
{
    Desk *desk = context;
    guint n = desk->held.length;

    for (guint i = 0; i < n; i++) {
        Errand *errand = g_queue_pop_head(&desk->held);
        errand->now_ms = clock_now(desk->clock);
        store_submit(desk->store, errand->now_ms, run_errand, finish, errand);
    }
}

static void submit(Desk *desk, JobRun *run, JobDone *done, void *context, bool surely)
{
    Errand *errand = g_new0(Errand, 1);

    *errand = (Errand){.desk = desk,
                       .settings = settings_ref(desk->settings),
                       .now_ms = clock_now(desk->clock),
                       .run = run,
                       .done = done,
                       .context = context,
                       .surely = surely};
    store_submit(desk->store, errand->now_ms, run_errand, finish, errand);
}

void desk_submit(Desk *desk, JobRun *run, JobDone *done, void *context)
{
    submit(desk, run, done, context, false);
}

void desk_submit_surely(Desk *desk, JobRun *run, JobDone *done, void *context)
{
    submit(desk, run, done, context, true);
}
