/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/net/net_memory.h"

typedef struct {
    WireRequest *request;
    NetDone *done;
    void *context;
} Pending;

typedef struct {
    Net port;
    NetMemoryOptions options;
    GQueue waiting; /* of Pending, oldest first */
    int in_flight;
} NetMemory;

static void submit(Net *port, WireRequest *request, NetDone *done, void *context)
{
    NetMemory *net = (NetMemory *)port;
    Pending *pending = g_new0(Pending, 1);
    *pending = (Pending){request, done, context};
    g_queue_push_tail(&net->waiting, pending);
    net->in_flight++;
}

static int in_flight(const Net *port)
{
    return ((const NetMemory *)port)->in_flight;
}

static void deliver(NetMemory *net, Pending *pending, WireResponse *response)
{
    wire_request_free(pending->request);
    pending->done(response, pending->context);
    g_free(pending);
    net->in_flight--;
}

/* What the real carrier does to an exchange that its translator allowed too little for. */
static WireResponse *bounded(const WireRequest *request, WireResponse *response)
{
    if (g_bytes_get_size(response->body) <= request->answer_max) return response;
    wire_response_free(response);
    g_autofree char *why = g_strdup_printf("answer larger than %zu bytes", request->answer_max);
    return wire_response_new(PHASE_UNSURE, 0, NULL, why);
}

static WireResponse *answer(NetMemory *net, const WireRequest *request)
{
    if (request->end_ms != 0 && net->options.wall_ms(net->options.wall_context) > request->end_ms) {
        WireResponse *late = wire_response_new(PHASE_NEVER_LEFT, 0, NULL, "its end has passed");
        late->end_passed = true;
        return late;
    }
    return bounded(request, net->options.answer(request, net->options.context));
}

int net_memory_pump(Net *port)
{
    NetMemory *net = (NetMemory *)port;
    int count = (int)net->waiting.length;
    for (int i = 0; i < count; i++) {
        Pending *pending = g_queue_pop_head(&net->waiting);
        deliver(net, pending, answer(net, pending->request));
    }
    return count;
}

static void shut(Net *port)
{
    NetMemory *net = (NetMemory *)port;
    for (Pending *pending; (pending = g_queue_pop_head(&net->waiting)) != NULL;)
        deliver(net, pending,
                wire_response_new(PHASE_NEVER_LEFT, 0, NULL, "stopped before it began"));
    g_free(net);
}

Net *net_memory_new(const NetMemoryOptions *options)
{
    NetMemory *net = g_new0(NetMemory, 1);
    net->port = (Net){submit, in_flight, shut};
    net->options = *options;
    g_queue_init(&net->waiting);
    return &net->port;
}
