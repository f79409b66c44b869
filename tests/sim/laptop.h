/* SPDX-License-Identifier: Apache-2.0 */
/* A laptop that is away: what is written down on it gets its place in the laptop's own chain at once and reaches the clinic's
 * ledger days later. */
#ifndef OSIER_TESTS_SIM_LAPTOP_H
#define OSIER_TESTS_SIM_LAPTOP_H

#include "tests/sim/clinic.h"

typedef struct Laptop Laptop;

#define LAPTOP_REPLICA "1ab70b0000000000"

Laptop *laptop_new(SimClinic *clinic);
void laptop_free(Laptop *laptop);

/* Somebody writes it down now; body is taken over. */
void laptop_note(Laptop *laptop, const char *kind, const char *client, json_t *body);

/* Hands over all that the clinic does not have. What a full disk or a dead daemon refuses is handed over the next time. */
void laptop_meet(Laptop *laptop);

#endif
