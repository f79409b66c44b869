/* SPDX-License-Identifier: Apache-2.0 */
/* Plays a day of a clinic step by step, and tries each step with the database going away at its first point, at its second, and so on
 * until the step passes (lossy.h tells what a point is). */
#ifndef OSIER_TESTS_SIM_LOSS_H
#define OSIER_TESTS_SIM_LOSS_H

#include <stdbool.h>
#include <stddef.h>

/* How many tries went wrong, each of which is printed: it crashed or hung; a caller was told anything but what is so, or 503; or the
 * tables, once what was lost had been tried again at the same instant, were not those of a step without loss. far: see SimSetup. apart: 1 tries each point, more so many
 * points on.
 *
 * A step is one text: "GET /path", "POST /path {body}", "TEXT number words", of one that comes in, or "TO instant"; "ABOUT instant" is the same for what
 * is tried again later by intent: no instant in the tables is compared. After a call may stand
 * " -> name=field": what it answers in that field is called $name from then on. */
int loss_day(const char *const *steps, size_t n, bool far, int apart);

#endif
