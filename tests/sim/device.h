/* SPDX-License-Identifier: Apache-2.0 */
/* The store's twin behind a port that can lose its power between any two jobs. */
#ifndef OSIER_TESTS_SIM_DEVICE_H
#define OSIER_TESTS_SIM_DEVICE_H

#include "adapters/store/store.h"

typedef struct Device Device;

/* When the power goes. */
typedef enum {
    CUT_BEFORE, /* what is queued is lost */
    CUT_AFTER   /* what is queued is committed, but nobody hears of it */
} Cut;

/* far: it plays a database far away (store_memory_far_new). */
Device *device_new(const char *replica, int64_t now_ms, bool far);
void device_free(Device *device);

/* The port for the daemon that runs now; the same until device_revive. */
Store *device_port(Device *device);

/* Runs what is queued as one commit and calls back; the number of jobs. */
int device_pump(Device *device);

/* The next commits find no room. */
void device_fill(Device *device, int commits);
/* The database goes away in the midst of the next commits, at the n-th point (lossy.h), and is there again for the one after. 0: no. */
void device_lose(Device *device, int n);
bool device_has_lost(const Device *device);
/* Since then nothing could be written: what the daemon means to do waits. */
bool device_is_behind(const Device *device);

/* The power goes. What the daemon asks from now on fails, so that it can let go of its memory; none
 * of it reaches the store. */
void device_cut(Device *device, Cut cut);
bool device_is_cut(const Device *device);

/* Calls back, as failed, what the cut daemon still waits for; the number of jobs. */
int device_drain(Device *device);

/* The power is back: the store holds what was committed. */
void device_revive(Device *device);

/* Looks into the store beside the daemon; must change nothing. */
void device_look(Device *device, StoreJob *job, void *context);

#endif
