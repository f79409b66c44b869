/* SPDX-License-Identifier: Apache-2.0 */
/* A step ends when nothing holds it, wherever in the loop's turn the last hold goes. */
#include "daemon/clock/stepper.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#define START_MS 1000
#define PATIENCE_MS 5000 /* of the real clock, for a step that takes a moment */

typedef struct {
    uv_loop_t loop;
    uv_timer_t holder;
    uv_timer_t patience;
    Clock *clock;
    Stepper *stepper;
    Timer *due;
    int held;
    int fired;
    bool done;
} Bench;

static int holds(const char **what, void *context)
{
    const Bench *bench = context;

    *what = "the holder";
    return bench->held;
}

static void let_go(uv_timer_t *timer)
{
    Bench *bench = timer->data;

    bench->held--;
}

static void closed(uv_handle_t *handle)
{
    Bench *bench = handle->data;

    bench->held--;
}

static void let_go_by_closing(uv_timer_t *timer)
{
    uv_close((uv_handle_t *)timer, closed);
}

static void fire(void *context)
{
    Bench *bench = context;

    bench->fired++;
}

static void done(const char *stuck, void *context)
{
    Bench *bench = context;

    assert_null(stuck);
    bench->done = true;
    uv_stop(&bench->loop);
}

static void lose_patience(uv_timer_t *timer)
{
    Bench *bench = timer->data;

    uv_stop(&bench->loop);
}

/* Steps past a timer while something holds that goes, a moment later, in the given way. */
static void step_while_held(uv_timer_cb goes)
{
    Bench bench = {.held = 1};

    uv_loop_init(&bench.loop);
    bench.clock = clock_stepped_new(START_MS);
    bench.stepper = stepper_new(&bench.loop, bench.clock, holds, &bench);
    bench.due = timer_new(bench.clock, fire, &bench);
    timer_set(bench.due, START_MS + 500);
    uv_timer_init(&bench.loop, &bench.holder);
    uv_timer_init(&bench.loop, &bench.patience);
    bench.holder.data = bench.patience.data = &bench;
    uv_timer_start(&bench.holder, goes, 5, 0);
    uv_timer_start(&bench.patience, lose_patience, PATIENCE_MS, 0);
    stepper_to(bench.stepper, START_MS + 1000, done, &bench);
    uv_run(&bench.loop, UV_RUN_DEFAULT);
    assert_true(bench.done);
    assert_int_equal(bench.fired, 1);
    assert_int_equal(clock_now(bench.clock), START_MS + 1000);
    stepper_free(bench.stepper);
    timer_free(bench.due);
    if (!uv_is_closing((uv_handle_t *)&bench.holder)) uv_close((uv_handle_t *)&bench.holder, NULL);
    uv_close((uv_handle_t *)&bench.patience, NULL);
    uv_run(&bench.loop, UV_RUN_DEFAULT);
    assert_int_equal(uv_loop_close(&bench.loop), 0);
    clock_free(bench.clock);
}

static void a_hold_that_goes_in_a_timer(void **state)
{
    (void)state;
    step_while_held(let_go);
}

static void a_hold_that_goes_as_a_handle_closes(void **state)
{
    (void)state;
    step_while_held(let_go_by_closing);
}

/* What a timer has begun is over before the next fires, though both are due at one instant. */
typedef struct {
    Bench *bench;
    int held_when_fired;
} Worker;

static void begin_work(void *context)
{
    Worker *worker = context;
    Bench *bench = worker->bench;

    worker->held_when_fired = bench->held++;
    bench->fired++;
    uv_timer_start(&bench->holder, let_go, 2, 0);
}

static void two_timers_of_one_instant(void **state)
{
    Bench bench = {0};
    Worker workers[] = {{&bench, -1}, {&bench, -1}};
    Timer *timers[2];

    (void)state;
    uv_loop_init(&bench.loop);
    bench.clock = clock_stepped_new(START_MS);
    bench.stepper = stepper_new(&bench.loop, bench.clock, holds, &bench);
    uv_timer_init(&bench.loop, &bench.holder);
    bench.holder.data = &bench;
    for (int i = 0; i < 2; i++) {
        timers[i] = timer_new(bench.clock, begin_work, &workers[i]);
        timer_set(timers[i], START_MS + 500);
    }
    stepper_to(bench.stepper, START_MS + 1000, done, &bench);
    uv_run(&bench.loop, UV_RUN_DEFAULT);
    assert_true(bench.done);
    assert_int_equal(bench.fired, 2);
    assert_int_equal(workers[0].held_when_fired, 0);
    assert_int_equal(workers[1].held_when_fired, 0);
    stepper_free(bench.stepper);
    for (int i = 0; i < 2; i++)
        timer_free(timers[i]);
    uv_close((uv_handle_t *)&bench.holder, NULL);
    uv_run(&bench.loop, UV_RUN_DEFAULT);
    assert_int_equal(uv_loop_close(&bench.loop), 0);
    clock_free(bench.clock);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_hold_that_goes_in_a_timer),
        cmocka_unit_test(a_hold_that_goes_as_a_handle_closes),
        cmocka_unit_test(two_timers_of_one_instant),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
