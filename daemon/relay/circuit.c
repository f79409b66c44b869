/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/relay/circuit.h"

#define SICK_FAILURES 5
#define SICK_REFUSALS 3
#define PROBE_FIRST_MS 30000
#define PROBE_MOST_MS 300000

void circuit_init(Circuit *circuit, double rate, int concurrency)
{
    *circuit = (Circuit){
        .rate = rate, .concurrency = MAX(1, concurrency), .probe_wait_ms = PROBE_FIRST_MS};
}

void circuit_clear(Circuit *circuit)
{
    g_clear_pointer(&circuit->last_refused, g_free);
}

/* The rate as so many in a window of whole seconds: 5/s is 5 in one second, 30/min is 1 in two. */
static void window(const Circuit *circuit, int *most, int64_t *length_ms)
{
    if (circuit->rate >= 1) {
        *most = (int)circuit->rate;
        *length_ms = 1000;
    } else {
        *most = 1;
        *length_ms = (int64_t)(1.0 / circuit->rate + 0.999) * 1000;
    }
}

static int by_rate(Circuit *circuit, int64_t now_ms, int64_t *again_ms)
{
    int most;
    int64_t length_ms;

    if (circuit->rate <= 0) return circuit->concurrency;
    window(circuit, &most, &length_ms);
    /* A clock that was set back must not stop the gateway. */
    if (now_ms >= circuit->window_ms + length_ms || now_ms < circuit->window_ms) {
        circuit->window_ms = now_ms; /* not the clock's own second: two at 1/s are a second apart */
        circuit->sent = 0;
    }
    if (circuit->sent < most) return most - circuit->sent;
    *again_ms = circuit->window_ms + length_ms;
    return 0;
}

/* A sick gateway gets one message now and then. True where that one may go. */
static bool may_probe(const Circuit *circuit, int64_t now_ms, int64_t *again_ms)
{
    if (circuit->in_flight > 0) return false;
    /* A clock that was set back must not stop the gateway either. */
    if (now_ms >= circuit->probe_at_ms || circuit->probe_at_ms - now_ms > PROBE_MOST_MS)
        return true;
    *again_ms = circuit->probe_at_ms;
    return false;
}

int circuit_room(Circuit *circuit, int64_t now_ms, int most, int64_t *again_ms)
{
    *again_ms = INT64_MAX;
    if (circuit->state != CIRCUIT_CLOSED) return may_probe(circuit, now_ms, again_ms) ? 1 : 0;
    return MIN(most, circuit->rate > 0 ? by_rate(circuit, now_ms, again_ms) : most);
}

int circuit_slots(Circuit *circuit, int64_t now_ms, int64_t *again_ms)
{
    *again_ms = INT64_MAX;
    if (circuit->state != CIRCUIT_CLOSED) {
        if (!may_probe(circuit, now_ms, again_ms)) return 0;
        circuit->state = CIRCUIT_TRYING;
        return 1;
    }
    int unused = circuit->concurrency - circuit->in_flight;
    return MAX(0, MIN(unused, by_rate(circuit, now_ms, again_ms)));
}

void circuit_started(Circuit *circuit)
{
    circuit->in_flight++;
    circuit->sent++;
}

static void open_circuit(Circuit *circuit, int64_t now_ms, bool unreached)
{
    if (circuit->state == CIRCUIT_TRYING && !unreached)
        circuit->probe_wait_ms = MIN(circuit->probe_wait_ms * 2, PROBE_MOST_MS);
    else
        circuit->probe_wait_ms = PROBE_FIRST_MS;
    circuit->state = CIRCUIT_OPEN;
    circuit->probe_at_ms = now_ms + circuit->probe_wait_ms;
}

void circuit_succeeded(Circuit *circuit)
{
    circuit->in_flight--;
    circuit->failures = 0;
    circuit->refusals = 0;
    circuit->state = CIRCUIT_CLOSED;
    circuit->told = false;
    g_clear_pointer(&circuit->last_refused, g_free);
}

void circuit_failed(Circuit *circuit, int64_t now_ms, bool unreached)
{
    circuit->in_flight--;
    circuit->failures++;
    if (circuit->failures >= SICK_FAILURES || circuit->state == CIRCUIT_TRYING)
        open_circuit(circuit, now_ms, unreached);
}

void circuit_revive(Circuit *circuit)
{
    circuit->failures = 0;
    circuit->state = CIRCUIT_CLOSED;
    circuit->probe_wait_ms = PROBE_FIRST_MS;
}

bool circuit_refused(Circuit *circuit, int64_t now_ms, const char *to)
{
    circuit->in_flight--;
    circuit->failures = 0;
    if (g_strcmp0(circuit->last_refused, to) != 0) {
        circuit->refusals++;
        g_free(circuit->last_refused);
        circuit->last_refused = g_strdup(to);
    }
    if (circuit->refusals < SICK_REFUSALS && circuit->state == CIRCUIT_CLOSED) return false;
    open_circuit(circuit, now_ms, false);
    return true;
}
