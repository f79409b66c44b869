/* SPDX-License-Identifier: Apache-2.0 */
/* The brakes of one gateway: rate, exchanges at once, and a circuit that opens when the gateway is
 * sick.
 *
 *     closed --5 failures in a row, or 3 people refused in a row--> open --probe time--> trying
 * --success--> closed ^                     |
 *                                                                    '------failure--------'
 */
#ifndef OSIER_DAEMON_RELAY_CIRCUIT_H
#define OSIER_DAEMON_RELAY_CIRCUIT_H

#include <glib.h>
#include <stdbool.h>
#include <stdint.h>

typedef enum { CIRCUIT_CLOSED, CIRCUIT_OPEN, CIRCUIT_TRYING } CircuitState;

typedef struct {
    CircuitState state;
    double rate; /* a second; 0: no limit */
    int concurrency;
    int in_flight;
    int64_t window_ms; /* start of the second (or longer) that sent counts for: its first message */
    int sent;
    int failures;       /* in a row */
    int refusals;       /* people refused in a row */
    char *last_refused; /* whom */
    int64_t probe_at_ms;
    int64_t probe_wait_ms;
    bool told; /* that it is sick, in an alert */
} Circuit;

void circuit_init(Circuit *circuit, double rate, int concurrency);
void circuit_clear(Circuit *circuit);

/* How many exchanges may start now; 0 with *again_ms set to the instant at which to ask again
 * (INT64_MAX: when one that is in flight has ended). */
int circuit_slots(Circuit *circuit, int64_t now_ms, int64_t *again_ms);

/* How many messages it makes sense to hold ready: one for a probe, what the rate allows in its window,
 * most otherwise. 0 with *again_ms as above. */
int circuit_room(Circuit *circuit, int64_t now_ms, int most, int64_t *again_ms);

void circuit_started(Circuit *circuit);

/* What came of an exchange. unreached: nothing had left, so that trying costs no message anything, and it is tried each half
 * minute; otherwise more and more seldom, five minutes apart at most. circuit_refused says true where the refusal makes the
 * gateway sick rather than the person. */
void circuit_succeeded(Circuit *circuit);
void circuit_failed(Circuit *circuit, int64_t now_ms, bool unreached);
bool circuit_refused(Circuit *circuit, int64_t now_ms, const char *to);

/* Closes it, whatever was: what failed was not the gateway. */
void circuit_revive(Circuit *circuit);

#endif
