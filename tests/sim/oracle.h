/* SPDX-License-Identifier: Apache-2.0 */
/* What must hold in every clinic at every moment. Written from the design and the outward contract,
 * not from the daemon: each rule is a function that is named for it and quotes it. */
#ifndef OSIER_TESTS_SIM_ORACLE_H
#define OSIER_TESTS_SIM_ORACLE_H

#include "tests/sim/clinic.h"
#include "tests/sim/model.h"

typedef struct Oracle Oracle;

/* A message on its way out, as its row told it when the bytes left. */
typedef struct {
    char *id;
    char *kind;
    char *client; /* or NULL */
    char *session;
    char *alert;
    char *state;
    char *text; /* without a mail's head */
    int64_t end_ms;
    int64_t claimed_ms;
    bool to_client;
} Sent;

/* Watches the clinic from now on: looks after each step. */
Oracle *oracle_new(SimClinic *clinic, bool takes_key);
void oracle_free(Oracle *oracle);

const Model *oracle_model(const Oracle *oracle);

/* Bytes of a message left. Fills sent, which the caller clears with sent_clear; false where the
 * message is not in the store at all. */
bool oracle_written(Oracle *oracle, const Written *written, Sent *sent);
void sent_clear(Sent *sent);

/* What the world did. A message that came in under several of the gateway's ids is one: its first.
 */
void oracle_said(Oracle *oracle, const char *gateway_id, const char *first_id, const char *from,
                 const char *text);
void oracle_acknowledged(Oracle *oracle, const char *gateway_id);

/* Compares the tables with the events, and the sessions with the plans. */
void oracle_compare(Oracle *oracle);

/* After days of calm: nothing is left lying. */
void oracle_end(Oracle *oracle);

#endif
