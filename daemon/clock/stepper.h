/* SPDX-License-Identifier: Apache-2.0 */
/* Steps a stopped clock from one due instant to the next and waits after each until the daemon is
 * quiet. Quiet means that nothing holds after a full pass of the loop. */
#ifndef OSIER_DAEMON_CLOCK_STEPPER_H
#define OSIER_DAEMON_CLOCK_STEPPER_H

#include "daemon/clock/clock.h"

typedef struct Stepper Stepper;

/* How many things hold the step; names the first in *what (static text). */
typedef int StepperHolds(const char **what, void *context);

/* stuck names what held the step for 60 s of real time, NULL where the clock has arrived. */
typedef void StepperDone(const char *stuck, void *context);

Stepper *stepper_new(uv_loop_t *loop, Clock *clock, StepperHolds *holds, void *context);

/* Answers the calls that still wait and frees it; its handles close on the next turns of the loop. */
void stepper_free(Stepper *stepper);

/* Moves the clock to an instant. A second call waits for the first; an instant that has passed only
 * waits until quiet. */
void stepper_to(Stepper *stepper, int64_t to_ms, StepperDone *done, void *context);

/* Calls of stepper_to that have not been answered. */
int stepper_waiting(const Stepper *stepper);

#endif
