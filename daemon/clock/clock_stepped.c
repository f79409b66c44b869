/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/clock/clock_private.h"

typedef struct {
    Clock clock;
    int64_t now_ms;
} Stepped;

static int64_t now(const Clock *clock)
{
    return ((const Stepped *)clock)->now_ms;
}

static void arm(Clock *clock)
{
    (void)clock;
}

static void release(Clock *clock)
{
    clock_clear(clock);
    g_free(clock);
}

Clock *clock_stepped_new(int64_t start_ms)
{
    Stepped *stepped = g_new0(Stepped, 1);

    stepped->clock =
        (Clock){.now = now, .arm = arm, .free = release, .stepped = true, .made_up = true};
    stepped->now_ms = start_ms;
    clock_init(&stepped->clock);
    return &stepped->clock;
}

void clock_move(Clock *clock, int64_t to_ms)
{
    Stepped *stepped = (Stepped *)clock;

    g_assert(clock->stepped);
    g_assert(to_ms >= stepped->now_ms);
    stepped->now_ms = to_ms;
}
