/* SPDX-License-Identifier: Apache-2.0 */
/* What the parts of tests/sim/apart*.c share. */
#ifndef OSIER_TESTS_SIM_APART_INSIDE_H
#define OSIER_TESTS_SIM_APART_INSIDE_H

#include "adapters/net/net.h"
#include "adapters/serve/serve.h"
#include "adapters/store/store.h"
#include "daemon/daemon.h"
#include "tests/sim/apart.h"
#include "tests/sim/clinic.h"
#include "tests/sim/standin.h"

#define REPLICAS_MOST 5
#define APART_DAY_MS INT64_C(86400000)

typedef struct {
    Apart *apart;
    int number;
    char *id;
    int64_t ahead_ms; /* of its clock */
    int64_t back_ms;  /* out of everybody's reach until then */
    Clock *clock;
    Random *chance;
    Store *store;
    Net *net;
    Serve *control;
    Daemon *daemon;
} Replica;

struct Apart {
    SimClinic *frame; /* its settings and folder; its daemon is never started */
    Trace *trace;
    Random *random;
    Standin *standin;
    ApartTally *tally;
    Replica replica[REPLICAS_MOST];
    int replicas;
    int writing;       /* the replica whose net asks */
    GPtrArray *late;   /* of GBytes: parcels under way, to come once more or too late */
    GPtrArray *people; /* ids that were given out, a person's several times */
    int64_t now_ms;
};

static inline uint64_t apart_draw(Apart *apart, uint64_t below)
{
    return random_below(apart->random, "apart", below);
}

/* Lets everything that a replica has in hand come to its end. */
void apart_settle(Replica *replica);

/* One call of its JSON API; body is taken over. The answer (json_decref), or NULL unless it was taken. */
json_t *apart_call(Replica *replica, const char *method, const char *path, json_t *body);

/* Runs a job at once, through the desk. */
typedef bool ApartJob(Job *job, void *context);
void apart_job(Replica *replica, ApartJob *run, void *context);

/* apart_work.c: somebody does something on a replica. */
void apart_work(Replica *replica);

/* apart_rules.c: told of each message whose bytes leave; and the end of a history, when all have heard of everything. */
void apart_written(const Written *written, void *apart);
void apart_judge(Apart *apart);

#endif
