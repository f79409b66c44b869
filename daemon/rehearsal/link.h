/* SPDX-License-Identifier: Apache-2.0 */
/* The line from the rehearsal to osierd: one call at a time, and while the answer is on its way the
 * loop turns, so that the stand-ins can answer what osierd asks them meanwhile. */
#ifndef OSIER_DAEMON_REHEARSAL_LINK_H
#define OSIER_DAEMON_REHEARSAL_LINK_H

#include <jansson.h>
#include <stdint.h>
#include <uv.h>

#include "adapters/net/net.h"

typedef struct {
    uv_loop_t *loop;
    Net *net;
    const char *socket;    /* of the JSON API */
    char *problem;         /* the first exchange that failed, in one line, or NULL; the owner's */
    const int64_t *now_ms; /* the made-up instant. NULL: osierd is not stepped yet */
} Link;

/* Does an exchange (taken over). Never NULL; freed with wire_response_free. */
WireResponse *link_do(Link *link, WireRequest *request);

/* Does one that changes something in osierd, and waits until it is quiet again: what follows from a
 * webhook or a call must be over before the next, or the same seed would not give the same order. */
WireResponse *link_deliver(Link *link, WireRequest *request);

/* Calls the JSON API; after a POST it waits until osierd is quiet, likewise. body: taken over, NULL for none. The answer (new
 * reference) with its HTTP status, or NULL where no JSON came back; then problem says why. status may be NULL. */
json_t *link_ask(Link *link, const char *method, const char *path, json_t *body, long *status);

/* The same for a call that must succeed: NULL with problem set where the status is not 200. */
json_t *link_must(Link *link, const char *method, const char *path, json_t *body);

#endif
