/* SPDX-License-Identifier: Apache-2.0 */
/* A clinic for benches: a folder, the real store, the real net, the whole daemon on a clock that starts at a given
 * instant, and clients made through the API's own handlers. */
#ifndef OSIER_TESTS_BENCH_OFFICE_H
#define OSIER_TESTS_BENCH_OFFICE_H

#include "daemon/control/call.h"
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
    double speed; /* of the clock, from the next opening on */
} Office;

/* port: of the gateway; 0: a spool. The time stands at start until the clock runs on. */
Office *office_new(int port, const char *start);

/* The same with its store in a schema on a PostgreSQL server of its own. */
Office *office_new_on_server(int port, const char *start);
void office_free(Office *office);

/* Closes everything and leaves the folder behind, whose path is the caller's: folder_remove. */
char *office_leave(Office *office);

/* The same with a mail server beside the gateway. */
Office *office_new_with_mail(int port, int mail_port, const char *start);

/* Makes clients with consent, screen and a plan for 08:30 each day. */
void office_fill(Office *office, int clients);

/* The same for very many: the first is made through the API, the others by events like the first one's, without the answers
 * and the welcome that the API makes for each. Their ids lie anywhere, as real ones do. */
void office_fill_alike(Office *office, int clients);

/* Not all at once: so many of them at 08:30, as many each minute after that, in so many groups; the rest at 18:00. */
typedef struct {
    int groups;
    int each;
} OfficeSpread;

void office_fill_spread(Office *office, int clients, OfficeSpread spread);

/* Runs a job on the store thread and waits for it. */
void office_job(Office *office, JobRun *run, void *context);

/* One call of the API inside a job, which must succeed: body is taken over, *made (g_free) gets the client's id where made
 * is not NULL. */
void office_call(Job *job, CallHandler *handler, const char *id, json_t *body, char **made);

/* Closes everything but the folder and opens it again at an instant. */
void office_reopen(Office *office, const char *start);

/* Runs the loop until so many messages have been accepted since the office was opened. */
void office_wait_accepted(Office *office, int count);

/* What the store thread has taken so far, in microseconds of CPU. */
double office_store_cpu_us(Office *office);

/* Runs the loop until nothing is due and nothing is in hand. */
void office_wait_quiet(Office *office);

#endif
