/* SPDX-License-Identifier: Apache-2.0 */
/* The people around a simulated clinic: clients who answer as people do, clinicians who take alerts
 * and close them, a desk that pauses, resumes and changes plans. All drawn from the seed. */
#ifndef OSIER_TESTS_SIM_WORLD_H
#define OSIER_TESTS_SIM_WORLD_H

#include "tests/sim/laptop.h"
#include "tests/sim/oracle.h"
#include "tests/sim/phrases.h"

typedef struct World World;

typedef void WorldAct(World *world, int person, void *data);

typedef struct {
    char *name;
    char *id; /* of the client, once added */
    char *phone;
    char *email;
    char *zone;
    char times[16];
    const char *channel;
    int answers_percent;
    char letter; /* by the last text to a phone that is shared; 0: it had none */
    bool planned;
    bool ended;
    bool stopped; /* has said so */
} WorldPerson;

struct World {
    SimClinic *clinic;
    Oracle *oracle;
    Random *random;
    Trace *trace;
    Laptop *laptop;
    GSequence *happenings; /* by instant, then by order */
    uint64_t order;
    GPtrArray *people;  /* of WorldPerson */
    GPtrArray *inbox;   /* gateway's id of each item that was put there; lent */
    GPtrArray *ids;     /* of gateway's ids */
    guint acknowledged; /* items of the inbox */
    int64_t calm_ms;    /* from then on nobody starts anything new */
    int64_t hush_ms;    /* from then on nobody writes */
    int said;
    int64_t said_ms; /* what the last of them bears as its time */
};

/* The world of a clinic, joined to its gateway. */
World *world_new(SimClinic *clinic, Oracle *oracle);
void world_free(World *world);

/* Peoples it: clients join within two days, each with a temper. */
void world_fill(World *world, int people, int64_t calm_ms);

/* The instant of the next happening, INT64_MAX where none is to come. */
int64_t world_next(const World *world);

/* Lets everything happen that is due by now. */
void world_act(World *world);

/* Something happens later; data is freed with g_free. */
void world_later(World *world, int64_t wait_ms, WorldAct *act, int person, void *data);

/* Someone sends a text now, by webhook or into the inbox, at times twice. */
typedef enum { WAY_ANY, WAY_HOOK, WAY_INBOX } Way;
void world_say(World *world, const char *from, const char *text, Way way);

bool world_chance(World *world, const char *purpose, int percent);
int64_t world_wait(World *world, const char *purpose, int64_t least_ms, int64_t most_ms);
bool world_is_calm(const World *world);

/* world_clients.c: what a client does with a message that has reached the phone. */
void world_client_reads(World *world, const Sent *sent, const Written *written);
void world_clients_fill(World *world, int people);

/* world_staff.c: what clinicians and the desk do. */
void world_staff_reads(World *world, const Sent *sent, const Written *written);
void world_staff_fill(World *world);
void world_add(World *world, int person);
bool world_plan(World *world, int person, const char *times);

#endif
