/* SPDX-License-Identifier: Apache-2.0 */
/* The clock port and its timers. Wall time says what is due. clock_live reads the system's clock,
 * clock_fast runs a made-up time at a multiple, clock_stepped stands still until it is moved; it is
 * also the twin for tests. */
#ifndef OSIER_DAEMON_CLOCK_CLOCK_H
#define OSIER_DAEMON_CLOCK_CLOCK_H

#include <glib.h>
#include <stdbool.h>
#include <stdint.h>
#include <uv.h>

typedef struct Clock Clock;
typedef struct Timer Timer;

typedef void TimerFire(void *context);

/* Called when the wall clock was set: from one instant to another. */
typedef void ClockJump(int64_t from_ms, int64_t to_ms, void *context);

#define CLOCK_NEVER INT64_MAX

/* The system's wall clock; wakes only for a timer, or when the clock is set. jump may be NULL. NULL
 * where the system lacks the timer descriptor. */
Clock *clock_live_new(uv_loop_t *loop, ClockJump *jump, void *context);

/* Starts at start_ms and runs speed times as fast as real time. */
Clock *clock_fast_new(uv_loop_t *loop, int64_t start_ms, double speed);

/* Stands at start_ms. */
Clock *clock_stepped_new(int64_t start_ms);

/* Frees the clock; its timers must be gone. A live or fast clock needs one more turn of its loop to
 * let go. */
void clock_free(Clock *clock);

int64_t clock_now(const Clock *clock);
bool clock_is_stepped(const Clock *clock);

/* True where the time is made up (fast or stepped): no gateway but the loopback's may then be
 * spoken to. */
bool clock_is_virtual(const Clock *clock);

/* The instant of the earliest timer set, or CLOCK_NEVER. */
int64_t clock_next(const Clock *clock);

/* Moves a stepped clock (never backwards) without firing. */
void clock_move(Clock *clock, int64_t to_ms);

/* The clock was set back by so much: every timer that is set comes as much sooner, for nearly all of them stand for a wait (the
 * next poll, the next knock). Who waits for a time of day finds that it has not come, and sets the timer anew. */
void clock_hasten(Clock *clock, int64_t by_ms);

/* Fires the timers that are due, in the order of their instants, then of their setting. The number
 * fired. Timers set by what fires wait for the next call. */
int clock_fire(Clock *clock);

/* Fires the first of the timers that are due. False where none is. */
bool clock_fire_one(Clock *clock);

/* A timer that is not set. Freed with timer_free. */
Timer *timer_new(Clock *clock, TimerFire *fire, void *context);
void timer_free(Timer *timer);

/* Sets the timer to an instant; one that has passed fires at the next turn. CLOCK_NEVER clears it.
 */
void timer_set(Timer *timer, int64_t at_ms);
int64_t timer_at(const Timer *timer);

#endif
