/* SPDX-License-Identifier: Apache-2.0 */
/* The check handle runs after each poll of the loop. While something holds, the loop may sleep in
 * its poll: the holder's own event wakes it. Where the last hold goes in a timer or as a handle
 * closes, no event follows: the prepare handle sees that before the loop would sleep. Once nothing
 * holds, an idle handle forces one more full pass; if still nothing holds then, the step is quiet.
 */
#include "daemon/clock/stepper.h"

#define STUCK_MS 60000

typedef struct {
    int64_t to_ms;
    StepperDone *done;
    void *context;
} Wish;

struct Stepper {
    Clock *clock;
    StepperHolds *holds;
    void *context;
    uv_prepare_t prepare;
    uv_check_t check;
    uv_idle_t idle;
    uv_timer_t watchdog;
    int open_handles;
    GQueue wishes; /* of Wish; the first is being carried out */
    bool running;
    bool passed_quiet; /* nothing held in the pass before */
};

static void on_idle(uv_idle_t *idle)
{
    (void)idle;
}

static void on_stuck(uv_timer_t *timer);

static void rest(Stepper *stepper)
{
    stepper->running = false;
    uv_prepare_stop(&stepper->prepare);
    uv_check_stop(&stepper->check);
    uv_idle_stop(&stepper->idle);
    uv_timer_stop(&stepper->watchdog);
}

static void next_wish(Stepper *stepper);

static void finish(Stepper *stepper, const char *stuck)
{
    Wish *wish = g_queue_pop_head(&stepper->wishes);

    rest(stepper);
    wish->done(stuck, wish->context);
    g_free(wish);
    next_wish(stepper);
}

/* Quiet: fires what is due by the wish, or ends. */
static void advance(Stepper *stepper)
{
    Wish *wish = g_queue_peek_head(&stepper->wishes);
    int64_t next = clock_next(stepper->clock);
    int64_t now = clock_now(stepper->clock);

    if (next <= wish->to_ms || next <= now) {
        if (next > now) clock_move(stepper->clock, next);
        uv_timer_again(&stepper->watchdog);
        /* One at a time: what two start together may end in either order. */
        clock_fire_one(stepper->clock);
        return;
    }
    if (wish->to_ms > now) clock_move(stepper->clock, wish->to_ms);
    finish(stepper, NULL);
}

static void on_check(uv_check_t *check)
{
    Stepper *stepper = check->data;
    const char *what;

    if (stepper->holds(&what, stepper->context) > 0) {
        stepper->passed_quiet = false;
        uv_idle_stop(&stepper->idle);
        return;
    }
    if (!stepper->passed_quiet) {
        stepper->passed_quiet = true;
        uv_idle_start(&stepper->idle, on_idle);
        return;
    }
    stepper->passed_quiet = false;
    uv_idle_start(&stepper->idle, on_idle);
    advance(stepper);
}

static void on_prepare(uv_prepare_t *prepare)
{
    Stepper *stepper = prepare->data;
    const char *what;

    if (stepper->holds(&what, stepper->context) == 0) uv_idle_start(&stepper->idle, on_idle);
}

static void on_stuck(uv_timer_t *timer)
{
    Stepper *stepper = timer->data;
    const char *what = "nothing in particular";

    stepper->holds(&what, stepper->context);
    finish(stepper, what);
}

static void next_wish(Stepper *stepper)
{
    if (stepper->running || g_queue_is_empty(&stepper->wishes)) return;
    stepper->running = true;
    stepper->passed_quiet = false;
    uv_prepare_start(&stepper->prepare, on_prepare);
    uv_check_start(&stepper->check, on_check);
    uv_idle_start(&stepper->idle, on_idle);
    uv_timer_start(&stepper->watchdog, on_stuck, STUCK_MS, STUCK_MS);
}

Stepper *stepper_new(uv_loop_t *loop, Clock *clock, StepperHolds *holds, void *context)
{
    Stepper *stepper = g_new0(Stepper, 1);

    g_assert(clock_is_stepped(clock));
    stepper->clock = clock;
    stepper->holds = holds;
    stepper->context = context;
    uv_prepare_init(loop, &stepper->prepare);
    uv_check_init(loop, &stepper->check);
    uv_idle_init(loop, &stepper->idle);
    uv_timer_init(loop, &stepper->watchdog);
    stepper->prepare.data = stepper->check.data = stepper;
    stepper->idle.data = stepper->watchdog.data = stepper;
    stepper->open_handles = 4;
    g_queue_init(&stepper->wishes);
    return stepper;
}

static void on_closed(uv_handle_t *handle)
{
    Stepper *stepper = handle->data;

    if (--stepper->open_handles > 0) return;
    g_free(stepper);
}

void stepper_free(Stepper *stepper)
{
    if (stepper == NULL) return;
    rest(stepper);
    for (Wish *wish; (wish = g_queue_pop_head(&stepper->wishes)) != NULL; g_free(wish))
        wish->done("osierd stops", wish->context);
    uv_close((uv_handle_t *)&stepper->prepare, on_closed);
    uv_close((uv_handle_t *)&stepper->check, on_closed);
    uv_close((uv_handle_t *)&stepper->idle, on_closed);
    uv_close((uv_handle_t *)&stepper->watchdog, on_closed);
}

void stepper_to(Stepper *stepper, int64_t to_ms, StepperDone *done, void *context)
{
    Wish *wish = g_new0(Wish, 1);

    *wish = (Wish){.to_ms = to_ms, .done = done, .context = context};
    g_queue_push_tail(&stepper->wishes, wish);
    next_wish(stepper);
}

int stepper_waiting(const Stepper *stepper)
{
    return (int)g_queue_get_length((GQueue *)&stepper->wishes);
}
