/* SPDX-License-Identifier: Apache-2.0 */
/* The gateway and the mail server that a simulated clinic speaks with: phones and mailboxes behind
 * them, an inbox to poll, and every fault that gateways have. */
#ifndef OSIER_TESTS_SIM_STANDIN_H
#define OSIER_TESTS_SIM_STANDIN_H

#include "core/wire/exchange.h"
#include "daemon/random.h"
#include "tests/sim/trace.h"

/* How the gateway is at the moment. */
typedef enum {
    WEATHER_CLEAR,
    WEATHER_ERRORS,  /* answers 500 */
    WEATHER_CUT,     /* takes the request and never answers; half of the messages went out */
    WEATHER_DEAD,    /* cannot be reached */
    WEATHER_HTML,    /* 200 and a page; half of the messages went out */
    WEATHER_REFUSES, /* refuses everybody */
    WEATHER_SLOW,    /* minutes pass while it works */
    WEATHER_COUNT
} Weather;

const char *weather_name(Weather weather);

/* What the gateway made of a message whose bytes reached it. */
typedef enum { MADE_ACCEPTED, MADE_FAILED, MADE_UNSURE, MADE_REFUSED } Made;

typedef struct {
    const char *id;   /* the message's */
    const char *to;   /* number or address */
    const char *text; /* a text, or the whole mail */
    bool mail;
    Made made;
    bool delivered;         /* it reaches the phone or the mailbox */
    const char *gateway_id; /* where accepted */
} Written;

/* Called for each message whose bytes left, before the answer is given. */
typedef void StandinWritten(const Written *written, void *context);

/* Called when a poll shows that the items before index were kept. */
typedef void StandinAcknowledged(guint index, void *context);

typedef struct Standin Standin;

Standin *standin_new(Trace *trace, Random *random, bool takes_key);
void standin_free(Standin *standin);
void standin_watch(Standin *standin, StandinWritten *written, StandinAcknowledged *acknowledged,
                   void *context);

/* The answer to a request, for the net's twin. */
WireResponse *standin_answer(const WireRequest *request, void *standin);

/* Puts an item of the inbox, as JSON text, after the others; its index. */
guint standin_put(Standin *standin, const char *item);

void standin_set_weather(Standin *standin, Weather weather);
Weather standin_weather(const Standin *standin);

/* How often somebody has knocked at one of its doors. */
int standin_knocks(const Standin *standin);

/* So many polls that come while it cannot be reached go out on a connection that was kept, and nothing comes back. */
void standin_keep(Standin *standin, int polls);

/* Chances in a thousand of a stray fault of any request in clear weather. */
void standin_set_strays(Standin *standin, int per_mille);

/* Refuses one number, or takes it again. */
void standin_refuse(Standin *standin, const char *number, bool refuses);

#endif
