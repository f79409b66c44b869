/* SPDX-License-Identifier: Apache-2.0 */
/* The intake: polls gateways and hears their webhooks; stores each message raw, acknowledges after
 * the commit, and has it read after that. */
#ifndef OSIER_DAEMON_INTAKE_INTAKE_H
#define OSIER_DAEMON_INTAKE_INTAKE_H

#include <uv.h>

#include "adapters/net/net.h"
#include "adapters/serve/serve.h"
#include "daemon/intake/rounds.h"

typedef struct Intake Intake;

/* All stay the caller's. loop: whose workers read mail; NULL: it is read on the spot. */
Intake *intake_new(Desk *desk, Net *net, uv_loop_t *loop);
void intake_free(Intake *intake);

/* Asks them while it runs; copied. */
void intake_watch(Intake *intake, const IntakeWatch *watch);

/* The clinic's line is back: every gateway is polled now. */
void intake_back(Intake *intake);

/* Reads what was stored and not yet read, and starts polling. */
void intake_start(Intake *intake);
void intake_reload(Intake *intake);
/* There is room on the device again: what was stored and could not be read then is read now. */
void intake_again(Intake *intake);
void intake_stop(Intake *intake);

/* Stops for good: webhooks are answered with 503 from now on, so that what is in flight comes to its end. */
void intake_close(Intake *intake);
int intake_busy(const Intake *intake);

/* The webhook listener's handler; context is the Intake. 2xx only after the commit; 401 bad
 * signature, 404, 405, 429 too many, 503 cannot store. */
void intake_hook(ServeRequest *request, void *intake);

/* One object for each gateway that is polled: name, last (instant of the last good answer or null),
 * failures. */
json_t *intake_json(const Intake *intake);

/* One object for each gateway that has posted: see hook_watch.h (new reference). */
json_t *intake_hooks_json(const Intake *intake);

#endif
