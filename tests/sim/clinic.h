/* SPDX-License-Identifier: Apache-2.0 */
/* A whole clinic in memory: a folder with its settings, the daemon on the twins of its ports, a
 * clock that is stepped, and a gateway that is played. The daemon can be stopped, cut off and begun
 * again on the same store. */
#ifndef OSIER_TESTS_SIM_CLINIC_H
#define OSIER_TESTS_SIM_CLINIC_H

#include <jansson.h>

#include "adapters/serve/serve.h"
#include "daemon/daemon.h"
#include "tests/sim/device.h"
#include "tests/sim/standin.h"

typedef struct {
    uint64_t seed;
    int64_t start_ms;
    const char *zone;       /* of the clinic; NULL: Europe/London */
    const char *quiet;      /* NULL: "21:00-08:00" */
    const char *poll_every; /* NULL: "10min" */
    const char *rate;       /* of the text gateway; NULL: "5/s" */
    bool takes_key;
    bool far; /* its store plays a database far away */
} SimSetup;

typedef struct SimClinic SimClinic;

/* What happens between two turns of the loop, before each: a fault may strike. */
typedef void SimTurn(SimClinic *clinic, void *context);

struct SimClinic {
    Trace *trace;
    Random *random; /* the world's; the daemon has its own */
    Standin *standin;
    Device *device;
    Clock *clock;
    char *folder;
    Settings *settings;
    SimTurn *turn;
    void *turn_context;
    SimTurn *quiet; /* called whenever the daemon has come to rest */
    void *quiet_context;

    /* One life of the daemon; all NULL while it is off. */
    Daemon *daemon;
    Random *chance;
    Net *net;
    Serve *control;
    Serve *hooks;
    int lives;
    int jumps; /* of its clock */
};

/* Numbers of the duty list. */
#define SIM_OKAFOR "+442079460190"
#define SIM_LINDQVIST "+442079460191"
#define SIM_PHONE "+442079460100"

/* A clinic whose daemon is off. */
SimClinic *sim_clinic_new(const SimSetup *setup);
void sim_clinic_free(SimClinic *clinic);

int64_t sim_now(const SimClinic *clinic);

/* Begins a life of the daemon, and waits until it is quiet. */
void sim_start(SimClinic *clinic);

/* Ends one in order: what is in flight is finished first. */
void sim_stop(SimClinic *clinic);

/* Ends one by a power cut. sent: requests under way reach the gateway, but no answer is heard. */
void sim_cut(SimClinic *clinic, Cut cut, bool sent);

/* Lets the daemon work until it is quiet. Breaks a rule where it never comes to rest. */
void sim_settle(SimClinic *clinic);

/* Moves to an instant from one due thing to the next, and waits after each until it is quiet. With
 * the daemon off the time just passes. */
void sim_to(SimClinic *clinic, int64_t to_ms);

/* The clock is set: back or forward, under a running daemon. */
void sim_set_clock(SimClinic *clinic, int64_t to_ms);

/* Calls the JSON API and waits; body is taken over, NULL for none. The answer (new reference) with
 * its HTTP status; NULL and 0 where the daemon is off or was cut off meanwhile. */
json_t *sim_call(SimClinic *clinic, const char *method, const char *path, json_t *body,
                 int *status);

/* Posts to a path of the hooks' listener. heard is called with the status, 0 where none came. */
typedef void SimHeard(int status, void *context);
void sim_hook(SimClinic *clinic, const char *path, const char *json, SimHeard *heard,
              void *context);

#endif
