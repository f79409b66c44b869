/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/relay/carry.h"

#include "adapters/files/spool.h"
#include "daemon/relay/translate.h"

typedef struct {
    LineShare *share;
    char *gateway;
    GatewayKind kind; /* as it was when the message left */
    bool asking;      /* whether the gateway has it already */
    Claim *claim;
    CarryDone *done;
    void *context;
} Flight;

static const Gateway *gateway_named(const LineShare *share, const char *name)
{
    return clinic_gateway(settings_clinic(desk_settings(share->desk)), name);
}

/* The flight is over. */
static void land(Flight *flight, Settlement settlement, const WireResponse *response)
{
    flight->share->exchanges--;
    flight->done(flight->claim, settlement, flight->asking, response, flight->context);
    g_free(flight->gateway);
    g_free(flight);
}

static void on_answer(WireResponse *response, void *context)
{
    Flight *flight = context;
    const Gateway *gateway = gateway_named(flight->share, flight->gateway);

    land(flight, claim_settle(gateway, flight->kind, flight->asking, response), response);
    wire_response_free(response);
}

static void on_fate(Settlement settlement, void *context)
{
    Flight *flight = context;

    if (settlement.fate == FATE_ACCEPTED && settlement.gateway_id == NULL)
        settlement.gateway_id = g_strdup(flight->claim->id);
    land(flight, settlement, NULL);
}

static bool end_here(Settlement *ended, Fate fate, const char *reason)
{
    *ended = (Settlement){.fate = fate, .reason = g_strdup(reason), .retry_after_s = -1};
    return false;
}

static bool write_spool(LineShare *share, const Claim *claim, Settlement *ended)
{
    Outgoing message = claim_outgoing(claim);
    g_autofree char *why = NULL;
    bool written =
        spool_write(share->spool_dir, &message, clock_now(desk_clock(share->desk)), &why);

    return end_here(ended, written ? FATE_ACCEPTED : FATE_WAITING,
                    written ? "written to the spool folder; nothing was sent" : why);
}

static bool give_courier(Flight *flight, Courier *courier)
{
    Outgoing message = claim_outgoing(flight->claim);

    return courier_send(courier, &message, flight->asking, on_fate, flight);
}

static bool submit(Flight *flight, const Gateway *gateway, char **why)
{
    const LineShare *share = flight->share;
    WireRequest *request = claim_request(flight->claim, gateway, desk_settings(share->desk), why);

    if (request == NULL) return false;
    request->end_ms = flight->claim->end_ms;
    net_submit(share->net, request, on_answer, flight);
    return true;
}

bool carry(LineShare *share, const char *gateway, Courier *courier, Claim *claim, CarryDone *done,
           void *context, Settlement *ended)
{
    const Gateway *way = gateway_named(share, gateway);
    g_autofree char *why = NULL;

    if (way == NULL) return end_here(ended, FATE_WAITING, "the gateway has left the settings");
    if (way->kind == GATEWAY_SPOOL) return write_spool(share, claim, ended);
    Flight *flight = g_new0(Flight, 1);
    *flight = (Flight){.share = share,
                       .gateway = g_strdup(gateway),
                       .kind = way->kind,
                       .asking = claim_is_to_ask(claim, way),
                       .claim = claim,
                       .done = done,
                       .context = context};
    share->exchanges++;
    bool program = way->kind == GATEWAY_PROGRAM;
    if (program ? give_courier(flight, courier) : submit(flight, way, &why)) return true;
    share->exchanges--;
    g_free(flight->gateway);
    g_free(flight);
    return program ? end_here(ended, FATE_WAITING, "the program is not ready")
                   : end_here(ended, FATE_REFUSED, why);
}
