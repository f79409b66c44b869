/* SPDX-License-Identifier: Apache-2.0 */
/* A clinic for benches: a folder, the real store, the real net, the whole daemon on a clock that starts at a given
 * instant, and clients made through the API's own handlers. */
#ifndef OSIER_TESTS_BENCH_OFFICE_H
#define OSIER_TESTS_BENCH_OFFICE_H

#include "daemon/daemon.h"

typedef struct {
    uv_loop_t loop;
    char *folder;
    Settings *settings;
    Clock *clock;
    Random *random;
    Store *store;
    Net *net;
    Daemon *daemon;
} Office;

/* port: of the gateway; 0: a spool. The time stands at start until the clock runs on. */
Office *office_new(int port, const char *start);
void office_free(Office *office);

/* The same with a mail server beside the gateway. */
Office *office_new_with_mail(int port, int mail_port, const char *start);

/* Makes clients with consent, screen and a plan for 08:30 each day. */
void office_fill(Office *office, int clients);

/* Closes everything but the folder and opens it again at an instant. */
void office_reopen(Office *office, const char *start);

/* Runs the loop until count messages of a kind are accepted. */
void office_wait_accepted(Office *office, const char *kind, int count);

/* Runs the loop until nothing is due and nothing is in hand. */
void office_wait_quiet(Office *office);

#endif
