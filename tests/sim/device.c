/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/sim/device.h"

#include "adapters/store/store_memory.h"

typedef struct {
    StoreJob *job;
    StoreDone *done;
    void *context;
    Device *device;
} Errand;

struct Device {
    Store port; /* first: the port is the device */
    Store *memory;
    GQueue waiting; /* of Errand, in the order of submission */
    int full;       /* commits that still find no room */
    bool behind;    /* none has found room since */
    bool cut;
    bool lost; /* the database went away since device_lose */
    bool deaf; /* commits are not heard of */
};

static bool run(Tx *tx, void *context)
{
    Errand *errand = context;

    return errand->job(tx, errand->context);
}

static void call_back(Device *device, Errand *errand, StoreStatus status)
{
    if (errand->done != NULL) errand->done(status, errand->context);
    g_queue_remove(&device->waiting, errand);
    g_free(errand);
}

static void done(StoreStatus status, void *context)
{
    Errand *errand = context;

    if (!errand->device->deaf) call_back(errand->device, errand, status);
}

static Errand *errand_new(Device *device, StoreJob *job, StoreDone *told, void *context)
{
    Errand *errand = g_new0(Errand, 1);

    *errand = (Errand){.job = job, .done = told, .context = context, .device = device};
    g_queue_push_tail(&device->waiting, errand);
    return errand;
}

static void submit(Store *store, int64_t now_ms, StoreJob *job, StoreDone *told, void *context)
{
    Device *device = (Device *)store;
    Errand *errand = errand_new(device, job, told, context);

    if (!device->cut) store_submit(device->memory, now_ms, run, done, errand);
}

static void read_only(Store *store, int64_t now_ms, StoreJob *job, StoreDone *told, void *context)
{
    Device *device = (Device *)store;
    Errand *errand = errand_new(device, job, told, context);

    if (!device->cut) store_read(device->memory, now_ms, run, done, errand);
}

static int pending(const Store *store)
{
    return (int)((const Device *)store)->waiting.length;
}

static void never_closed(Store *store)
{
    (void)store;
}

static const char *problem(const Store *store)
{
    const Device *device = (const Device *)store;

    return device->cut ? "the power is gone" : device->memory->problem(device->memory);
}

Device *device_new(const char *replica, int64_t now_ms, bool far)
{
    Device *device = g_new0(Device, 1);

    device->port = (Store){.submit = submit,
                           .read = read_only,
                           .pending = pending,
                           .close = never_closed,
                           .problem = problem};
    device->memory =
        far ? store_memory_far_new(replica, now_ms) : store_memory_new(replica, now_ms);
    g_queue_init(&device->waiting);
    return device;
}

void device_free(Device *device)
{
    if (device == NULL) return;
    g_assert(device->waiting.length == 0);
    device->memory->close(device->memory);
    g_free(device);
}

Store *device_port(Device *device)
{
    return &device->port;
}

int device_pump(Device *device)
{
    int jobs = store_memory_pump(device->memory);

    bool lost = store_memory_has_lost(device->memory);
    if (lost) store_memory_lose(device->memory, 0);
    device->lost = device->lost || lost;
    if (jobs > 0) device->behind = lost || device->full > 0;
    if (device->full > 0 && jobs > 0) device->full--;
    return jobs;
}

void device_fill(Device *device, int commits)
{
    device->full = commits;
    device->behind = commits > 0;
    store_memory_fail(device->memory, commits, STORE_FULL);
}

void device_lose(Device *device, int n)
{
    store_memory_lose(device->memory, n);
    device->lost = false;
}

bool device_has_lost(const Device *device)
{
    return device->lost;
}

bool device_is_behind(const Device *device)
{
    return device->behind;
}

void device_cut(Device *device, Cut cut)
{
    device->deaf = true;
    if (cut == CUT_AFTER) store_memory_pump(device->memory);
    device->memory = store_memory_crash(device->memory);
    device->deaf = false;
    device->full = 0;
    device->behind = false;
    device->cut = true;
}

bool device_is_cut(const Device *device)
{
    return device->cut;
}

int device_drain(Device *device)
{
    int jobs = 0;

    g_assert(device->cut);
    for (Errand *errand; (errand = g_queue_peek_head(&device->waiting)) != NULL; jobs++)
        call_back(device, errand, STORE_FAILED);
    return jobs;
}

void device_revive(Device *device)
{
    g_assert(device->waiting.length == 0);
    device->cut = false;
}

void device_look(Device *device, StoreJob *job, void *context)
{
    store_memory_look(device->memory, job, context);
}
