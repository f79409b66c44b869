/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/clock/clock.h"

#include "daemon/clock/clock_private.h"

struct Timer {
    Clock *clock;
    TimerFire *fire;
    void *context;
    int64_t at_ms;
    uint64_t order;
};

void clock_init(Clock *clock)
{
    clock->timers = g_ptr_array_new();
}

void clock_clear(Clock *clock)
{
    g_assert(clock->timers->len == 0);
    g_ptr_array_unref(clock->timers);
}

void clock_free(Clock *clock)
{
    clock->free(clock);
}

int64_t clock_now(const Clock *clock)
{
    return clock->now(clock);
}

bool clock_is_stepped(const Clock *clock)
{
    return clock->stepped;
}

bool clock_is_virtual(const Clock *clock)
{
    return clock->made_up;
}

/* The timer that is due first, by instant and then by the order of setting. */
static Timer *first_timer(const Clock *clock)
{
    Timer *first = NULL;

    for (guint i = 0; i < clock->timers->len; i++) {
        Timer *timer = clock->timers->pdata[i];
        if (timer->at_ms == CLOCK_NEVER) continue;
        if (first == NULL || timer->at_ms < first->at_ms ||
            (timer->at_ms == first->at_ms && timer->order < first->order))
            first = timer;
    }
    return first;
}

int64_t clock_next(const Clock *clock)
{
    const Timer *first = first_timer(clock);

    return first == NULL ? CLOCK_NEVER : first->at_ms;
}

void clock_hasten(Clock *clock, int64_t by_ms)
{
    for (guint i = 0; i < clock->timers->len; i++) {
        Timer *timer = clock->timers->pdata[i];
        if (timer->at_ms != CLOCK_NEVER) timer->at_ms -= by_ms;
    }
    clock->arm(clock);
}

bool clock_fire_one(Clock *clock)
{
    Timer *timer = first_timer(clock);

    if (timer == NULL || timer->at_ms > clock_now(clock)) return false;
    timer->at_ms = CLOCK_NEVER;
    timer->fire(timer->context);
    clock->arm(clock);
    return true;
}

int clock_fire(Clock *clock)
{
    int64_t now = clock_now(clock);
    uint64_t before = clock->order;
    int fired = 0;

    for (;;) {
        Timer *timer = first_timer(clock);
        if (timer == NULL || timer->at_ms > now || timer->order > before) break;
        timer->at_ms = CLOCK_NEVER;
        fired++;
        timer->fire(timer->context);
    }
    clock->arm(clock);
    return fired;
}

Timer *timer_new(Clock *clock, TimerFire *fire, void *context)
{
    Timer *timer = g_new0(Timer, 1);

    timer->clock = clock;
    timer->fire = fire;
    timer->context = context;
    timer->at_ms = CLOCK_NEVER;
    g_ptr_array_add(clock->timers, timer);
    return timer;
}

void timer_free(Timer *timer)
{
    if (timer == NULL) return;
    g_ptr_array_remove(timer->clock->timers, timer);
    timer->clock->arm(timer->clock);
    g_free(timer);
}

void timer_set(Timer *timer, int64_t at_ms)
{
    if (timer->at_ms == at_ms) return;
    timer->at_ms = at_ms;
    timer->order = ++timer->clock->order;
    timer->clock->arm(timer->clock);
}

int64_t timer_at(const Timer *timer)
{
    return timer->at_ms;
}
