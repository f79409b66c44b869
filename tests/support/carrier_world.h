/* SPDX-License-Identifier: Apache-2.0 */
/* The real carrier on a loop with a scripted server: what its tests share. */
#ifndef OSIER_TESTS_SUPPORT_CARRIER_WORLD_H
#define OSIER_TESTS_SUPPORT_CARRIER_WORLD_H

#include "adapters/net/net_curl.h"
#include "tests/support/script_server.h"

typedef struct {
    uv_loop_t loop;
    Net *net;
    ScriptServer *server;
    int64_t now_ms;
    WireResponse *response;
    int requests;       /* HTTP requests, or SMTP messages up to their dot, that the server saw */
    int hang_up_at;     /* the request that is answered by hanging up; 0: none */
    int passing_ms;     /* what the clock moves on at each look */
    const char *refuse; /* SMTP: the command that is refused */
    const char *reply;  /* SMTP: with which line; NULL: hangs up */
    bool first_only;    /* SMTP: only on the first connection */
    bool rude;          /* a goodbye is not answered */
    GString *dialogue;  /* command lines seen */
    GString *mail;      /* message seen */
} CarrierWorld;

/* For cmocka: a world whose server follows that script, and its end, which sees that the loop is left empty. */
int carrier_world_new(void **state, Script *script);
int carrier_world_end(void **state);

/* A carrier that may reach the loopback only, two connections at most. */
Net *carrier_open(CarrierWorld *world);

/* A request to the scripted server: "http", "/path". */
WireRequest *carrier_request(const CarrierWorld *world, ExchangeKind kind, const char *scheme,
                             const char *rest);

/* Submits; the response comes to world->response. */
void carrier_submit(CarrierWorld *world, WireRequest *request);

/* Submits and runs the loop until the response is there, which the world keeps until the next. */
const WireResponse *carrier_exchange(CarrierWorld *world, WireRequest *request);

#endif
