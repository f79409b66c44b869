/* SPDX-License-Identifier: Apache-2.0 */
/* The net port's twin: answers come from a function, delivered when the owner pumps. */
#ifndef OSIER_ADAPTERS_NET_NET_MEMORY_H
#define OSIER_ADAPTERS_NET_NET_MEMORY_H

#include "adapters/net/net.h"

/* Answers a request (never NULL); the request stays the twin's. */
typedef WireResponse *NetMemoryAnswer(const WireRequest *request, void *context);

typedef struct {
    NetMemoryAnswer *answer;
    void *context;
    int64_t (*wall_ms)(void *context);
    void *wall_context;
} NetMemoryOptions;

Net *net_memory_new(const NetMemoryOptions *options);

/* Delivers the answers of all that was submitted before this call, oldest first; the number
 * delivered. */
int net_memory_pump(Net *net);

#endif
