/* SPDX-License-Identifier: Apache-2.0 */
/* The net port: one asynchronous exchange, for HTTP, SMTP and IMAP alike. net_curl is the real one
 * (libcurl on libuv), net_memory the twin that a script answers. */
#ifndef OSIER_ADAPTERS_NET_NET_H
#define OSIER_ADAPTERS_NET_NET_H

#include "core/wire/exchange.h"

typedef struct Net Net;

/* The response belongs to the callee. Called on the loop, once for each net_submit, never from
 * within it. */
typedef void NetDone(WireResponse *response, void *context);

struct Net {
    void (*submit)(Net *net, WireRequest *request, NetDone *done, void *context);
    int (*in_flight)(const Net *net);
    void (*close)(Net *net); /* abandons what is in flight (its done is called with PHASE_UNSURE or
                                PHASE_NEVER_LEFT) and frees */
};

/* Starts an exchange; takes the request over. The response is the done callback's to free. */
static inline void net_submit(Net *net, WireRequest *request, NetDone *done, void *context)
{
    net->submit(net, request, done, context);
}

#endif
