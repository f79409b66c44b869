/* SPDX-License-Identifier: Apache-2.0 */
/* The live clock waits on a timer descriptor of the kernel that is set to a wall instant and is
 * cancelled when somebody sets the clock: so suspend and a corrected clock are noticed at once, and
 * an idle daemon sleeps. */
#include <errno.h>
#include <sys/timerfd.h>
#include <time.h>
#include <unistd.h>

#include "daemon/clock/clock_private.h"

typedef struct {
    Clock clock;
    int fd;
    uv_poll_t poll;
    ClockJump *jump;
    void *jump_context;
    int64_t apart_ms; /* wall less monotonic: a change is a jump */
} Live;

typedef struct {
    Clock clock;
    uv_timer_t timer;
    int64_t start_ms;
    uint64_t start_ns;
    double speed;
} Fast;

static int64_t read_ms(clockid_t id)
{
    struct timespec t;

    clock_gettime(id, &t);
    return (int64_t)t.tv_sec * 1000 + t.tv_nsec / 1000000;
}

static int64_t live_now(const Clock *clock)
{
    (void)clock;
    return read_ms(CLOCK_REALTIME);
}

static void live_arm(Clock *clock)
{
    Live *live = (Live *)clock;
    int64_t next = clock_next(clock);
    struct itimerspec at = {0};

    /* Without a timer the descriptor is still set, far ahead, so that a set clock is noticed. */
    if (next == CLOCK_NEVER) next = live_now(clock) + INT64_C(86400000) * 3650;
    if (next < 1) next = 1;
    at.it_value.tv_sec = next / 1000;
    at.it_value.tv_nsec = next % 1000 * 1000000;
    timerfd_settime(live->fd, TFD_TIMER_ABSTIME | TFD_TIMER_CANCEL_ON_SET, &at, NULL);
}

static void notice_jump(Live *live)
{
    int64_t apart = read_ms(CLOCK_REALTIME) - read_ms(CLOCK_BOOTTIME);
    int64_t moved = apart - live->apart_ms;

    live->apart_ms = apart;
    if (moved < 0) clock_hasten(&live->clock, -moved);
    if (live->jump != NULL && (moved > 1000 || moved < -1000))
        live->jump(read_ms(CLOCK_REALTIME) - moved, read_ms(CLOCK_REALTIME), live->jump_context);
}

static void on_live(uv_poll_t *poll, int status, int events)
{
    Live *live = poll->data;
    uint64_t expirations;

    (void)events;
    if (status < 0) return;
    if (read(live->fd, &expirations, sizeof expirations) < 0 && errno == ECANCELED)
        notice_jump(live);
    clock_fire(&live->clock);
}

static void live_closed(uv_handle_t *handle)
{
    Live *live = handle->data;

    close(live->fd);
    g_free(live);
}

static void live_free(Clock *clock)
{
    Live *live = (Live *)clock;

    clock_clear(clock);
    uv_close((uv_handle_t *)&live->poll, live_closed);
}

Clock *clock_live_new(uv_loop_t *loop, ClockJump *jump, void *context)
{
    int fd = timerfd_create(CLOCK_REALTIME, TFD_NONBLOCK | TFD_CLOEXEC);

    if (fd < 0) return NULL;
    Live *live = g_new0(Live, 1);
    live->clock = (Clock){.now = live_now, .arm = live_arm, .free = live_free};
    live->fd = fd;
    live->jump = jump;
    live->jump_context = context;
    live->apart_ms = read_ms(CLOCK_REALTIME) - read_ms(CLOCK_BOOTTIME);
    clock_init(&live->clock);
    live->poll.data = live;
    uv_poll_init(loop, &live->poll, fd);
    uv_poll_start(&live->poll, UV_READABLE, on_live);
    live_arm(&live->clock);
    return &live->clock;
}

static int64_t fast_now(const Clock *clock)
{
    const Fast *fast = (const Fast *)clock;

    return fast->start_ms + (int64_t)((double)(uv_hrtime() - fast->start_ns) / 1e6 * fast->speed);
}

static void on_fast(uv_timer_t *timer)
{
    clock_fire(timer->data);
}

static void fast_arm(Clock *clock)
{
    Fast *fast = (Fast *)clock;
    int64_t next = clock_next(clock);

    if (next == CLOCK_NEVER) {
        uv_timer_stop(&fast->timer);
        return;
    }
    double wait_ms = (double)(next - fast_now(clock)) / fast->speed;
    uv_update_time(fast->timer.loop);
    uv_timer_start(&fast->timer, on_fast, wait_ms <= 0 ? 0 : (uint64_t)wait_ms + 1, 0);
}

static void fast_closed(uv_handle_t *handle)
{
    g_free(handle->data);
}

static void fast_free(Clock *clock)
{
    Fast *fast = (Fast *)clock;

    clock_clear(clock);
    uv_close((uv_handle_t *)&fast->timer, fast_closed);
}

Clock *clock_fast_new(uv_loop_t *loop, int64_t start_ms, double speed)
{
    Fast *fast = g_new0(Fast, 1);

    fast->clock = (Clock){.now = fast_now, .arm = fast_arm, .free = fast_free, .made_up = true};
    fast->start_ms = start_ms;
    fast->start_ns = uv_hrtime();
    fast->speed = speed;
    clock_init(&fast->clock);
    uv_timer_init(loop, &fast->timer);
    fast->timer.data = fast;
    return &fast->clock;
}
