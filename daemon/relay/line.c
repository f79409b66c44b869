/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/relay/line.h"

#include "adapters/files/spool.h"
#include "adapters/mail/compose.h"
#include "adapters/sms/sms_gateway.h"
#include "daemon/relay/circuit.h"

#define BATCH 256        /* claimed at once, and held ready */
#define BATCH_STEPPED 32 /* one exchange at a time needs no more */
#define GATE_HOLDS_MS (15 * SECOND_MS)
#define DOUBT_MS (10 * MINUTE_MS)

typedef struct {
    Claim *claim;
    Settlement settlement;
} Doubt;

typedef struct {
    Line *line;
    Claim *claim;
    GatewayKind kind; /* as it was when the message left */
} Flight;

struct Line {
    LineShare *share;
    char *name;
    GatewayKind kind;
    Circuit circuit;
    bool claiming;
    bool stopped;
    GQueue ready;  /* of Claim */
    GQueue doubts; /* of Doubt */
    int64_t doubt_until_ms;
};

/* A refusal waits until it is known who is at fault: the next success says the person, a third refusal in a row says the
 * gateway, and after a while it is taken to be the person. */
static void doubt(Line *line, Claim *claim, Settlement settlement, int64_t now_ms)
{
    Doubt *held = g_new0(Doubt, 1);

    *held = (Doubt){.claim = claim, .settlement = settlement};
    g_queue_push_tail(&line->doubts, held);
    line->doubt_until_ms = now_ms + DOUBT_MS;
}

static void end_doubts(Line *line, bool sick)
{
    Doubt *held;

    while ((held = g_queue_pop_head(&line->doubts)) != NULL) {
        recorder_add(line->share->recorder, held->claim, held->settlement,
                     sick ? OUTCOME_SICK : OUTCOME_PLAIN);
        g_free(held);
    }
    line->doubt_until_ms = CLOCK_NEVER;
}

/* What was claimed and has not left goes back to waiting, as if it had not been tried. */
static void give_back_one(Line *line, Claim *claim, const char *reason)
{
    recorder_add(
        line->share->recorder, claim,
        (Settlement){.fate = FATE_WAITING, .reason = g_strdup(reason), .retry_after_s = -1},
        OUTCOME_UNTRIED);
}

static void give_back(Line *line, const char *reason)
{
    Claim *claim;

    while ((claim = g_queue_pop_head(&line->ready)) != NULL)
        give_back_one(line, claim, reason);
}

/* Records what came of a claim. */
static void finish(Line *line, Claim *claim, Settlement settlement)
{
    Circuit *circuit = &line->circuit;
    Recorder *recorder = line->share->recorder;
    int64_t now = clock_now(desk_clock(line->share->desk));
    bool sick = false;

    if (settlement.fate == FATE_ACCEPTED && circuit->state != CIRCUIT_CLOSED)
        log_line(desk_log(line->share->desk), LOG_WARNINGS, "gateway.well", "gateway", line->name,
                 NULL);
    if (settlement.fate == FATE_ACCEPTED)
        circuit_succeeded(circuit);
    else if (settlement.fate == FATE_REFUSED)
        sick = circuit_refused(circuit, now, claim->to);
    else
        circuit_failed(circuit, now);
    if (settlement.fate == FATE_ACCEPTED || sick) end_doubts(line, sick);
    if (settlement.fate == FATE_REFUSED && !sick && !line->stopped)
        doubt(line, claim, settlement, now);
    else
        recorder_add(recorder, claim, settlement, sick ? OUTCOME_SICK : OUTCOME_PLAIN);
    if (circuit->state == CIRCUIT_OPEN) {
        if (!circuit->told) {
            recorder_sick(recorder, line->name);
            log_line(desk_log(line->share->desk), LOG_ERRORS, "gateway.sick", "gateway", line->name,
                     NULL);
        }
        circuit->told = true;
        give_back(line, "the gateway is sick; it waits");
    }
    recorder_flush_soon(recorder, line->share->exchanges == 0);
}

/* --- exchanges --- */

static const Gateway *gateway_of(const Line *line)
{
    return clinic_gateway(settings_clinic(desk_settings(line->share->desk)), line->name);
}

static Settlement settle_answer(const Flight *flight, const WireResponse *response)
{
    const Gateway *gateway = gateway_of(flight->line);
    Settlement settlement = {.fate = FATE_WAITING, .retry_after_s = -1};

    if (response->phase == PHASE_NEVER_LEFT)
        settlement.reason = g_strdup(response->error);
    else if (flight->kind == GATEWAY_MAIL)
        mail_send_settle(response, &settlement);
    else if (gateway != NULL && gateway->kind == flight->kind)
        sms_send_settle(gateway, response, &settlement);
    else /* it left the settings while the message was under way */
        settlement = (Settlement){.fate = FATE_UNSURE,
                                  .reason = g_strdup("the gateway has left the settings"),
                                  .retry_after_s = -1};
    return settlement;
}

static void on_answer(WireResponse *response, void *context)
{
    Flight *flight = context;
    LineShare *share = flight->line->share;

    share->exchanges--;
    finish(flight->line, flight->claim, settle_answer(flight, response));
    wire_response_free(response);
    g_free(flight);
    share->moved(share->context);
}

static Outgoing outgoing_of(const Claim *claim)
{
    return (Outgoing){.id = claim->id,
                      .to = claim->to,
                      .text = claim->text,
                      .subject = claim->subject,
                      .html = claim->html,
                      .at_ms = claim->at_ms};
}

/* The request for a claim, or NULL with the reason: then the message, as it stands, cannot be sent by that gateway. */
static WireRequest *make_request(const Line *line, const Claim *claim, const Gateway *gateway,
                                 char **why)
{
    Outgoing message = outgoing_of(claim);
    Settings *settings = desk_settings(line->share->desk);

    if (gateway->kind == GATEWAY_HTTP_SMS)
        return sms_send_request(gateway, &message, settings_secret, settings, why);
    g_autofree char *password = gateway->smtp->password != NULL
                                    ? settings_fill_secret(settings, gateway->smtp->password)
                                    : NULL;
    return mail_send_request(gateway, &message, claim->to_client, password, why);
}

static void write_spool(Line *line, Claim *claim)
{
    Outgoing message = outgoing_of(claim);
    g_autofree char *why = NULL;
    bool written = spool_write(line->share->spool_dir, &message,
                               clock_now(desk_clock(line->share->desk)), &why);

    finish(line, claim,
           (Settlement){
               .fate = written ? FATE_ACCEPTED : FATE_WAITING,
               .reason = g_strdup(written ? "written to the spool folder; nothing was sent" : why),
               .retry_after_s = -1});
}

static void send_one(Line *line, Claim *claim)
{
    const Gateway *gateway = gateway_of(line);
    g_autofree char *why = NULL;

    circuit_started(&line->circuit);
    if (gateway != NULL && gateway->kind == GATEWAY_SPOOL) {
        write_spool(line, claim);
        return;
    }
    WireRequest *request = gateway != NULL ? make_request(line, claim, gateway, &why) : NULL;
    if (request == NULL) {
        finish(line, claim,
               (Settlement){
                   .fate = gateway != NULL ? FATE_REFUSED : FATE_WAITING,
                   .reason = g_strdup(gateway != NULL ? why : "the gateway has left the settings"),
                   .retry_after_s = -1});
        return;
    }
    Flight *flight = g_new0(Flight, 1);
    *flight = (Flight){.line = line, .claim = claim, .kind = gateway->kind};
    request->end_ms = claim->end_ms;
    line->share->exchanges++;
    net_submit(line->share->net, request, on_answer, flight);
}

void line_send(Line *line, int64_t now_ms, int64_t *again_ms)
{
    if (!g_queue_is_empty(&line->doubts) && line->doubt_until_ms <= now_ms) {
        end_doubts(line, false);
        recorder_flush(line->share->recorder);
    }
    *again_ms = MIN(*again_ms, line->doubt_until_ms);
    while (!g_queue_is_empty(&line->ready)) {
        int64_t again = CLOCK_NEVER;
        if (line->share->one_at_a_time && line->share->exchanges > 0) return;
        if (line->kind != GATEWAY_SPOOL && circuit_slots(&line->circuit, now_ms, &again) <= 0) {
            *again_ms = MIN(*again_ms, again);
            return;
        }
        Claim *claim = g_queue_pop_head(&line->ready);
        /* The gate's word is good for moments only: a slow gateway must not send what was stopped meanwhile. */
        if (now_ms - claim->claimed_ms > GATE_HOLDS_MS) {
            give_back_one(line, claim, "it waited too long for its turn");
            recorder_flush_soon(line->share->recorder, line->share->exchanges == 0);
        } else {
            send_one(line, claim);
        }
    }
}

/* --- claims --- */

int line_room(Line *line, int64_t now_ms, int64_t *again_ms)
{
    int64_t again = CLOCK_NEVER;
    int held = (int)g_queue_get_length(&line->ready);
    int most = line->share->one_at_a_time ? BATCH_STEPPED : BATCH;

    if (line->claiming) return 0;
    if (line->kind == GATEWAY_SPOOL) return most - held;
    int room = circuit_room(&line->circuit, now_ms, most, &again) - held;
    *again_ms = MIN(*again_ms, again);
    /* Asked for again when half is gone, so that claims stay few and large. */
    return held > most / 2 ? 0 : MAX(0, room);
}

void line_claiming(Line *line)
{
    line->claiming = true;
}

void line_claimed(Line *line, GPtrArray *claims)
{
    line->claiming = false;
    for (guint i = 0; i < claims->len; i++)
        g_queue_push_tail(&line->ready, claims->pdata[i]);
    g_ptr_array_set_size(claims, 0);
    if (!line->stopped) return;
    give_back(line, "osier is stopping");
    recorder_flush(line->share->recorder);
}

/* --- life --- */

Line *line_new(LineShare *share, const Gateway *gateway)
{
    Line *line = g_new0(Line, 1);

    line->share = share;
    line->name = g_strdup(gateway->name);
    line->doubt_until_ms = CLOCK_NEVER;
    g_queue_init(&line->ready);
    g_queue_init(&line->doubts);
    circuit_init(&line->circuit, gateway->rate, gateway->concurrency);
    line_update(line, gateway);
    return line;
}

void line_update(Line *line, const Gateway *gateway)
{
    line->kind = gateway->kind;
    line->circuit.rate = gateway->rate;
    line->circuit.concurrency = MAX(1, gateway->concurrency);
}

void line_stop(Line *line)
{
    line->stopped = true;
    end_doubts(line, false);
    give_back(line, "osier is stopping");
}

void line_free(Line *line)
{
    Claim *claim;
    Doubt *held;

    while ((claim = g_queue_pop_head(&line->ready)) != NULL)
        claim_free(claim);
    while ((held = g_queue_pop_head(&line->doubts)) != NULL) {
        claim_free(held->claim);
        settlement_clear(&held->settlement);
        g_free(held);
    }
    circuit_clear(&line->circuit);
    g_free(line->name);
    g_free(line);
}

bool line_has_left(const Line *line)
{
    return gateway_of(line) == NULL;
}

const char *line_name(const Line *line)
{
    return line->name;
}

GatewayKind line_kind(const Line *line)
{
    return line->kind;
}

/* What is ready but held by the brakes is not at work: a step does not wait for it. */
int line_busy(const Line *line)
{
    return line->circuit.in_flight;
}

json_t *line_json(const Line *line)
{
    static const char *const STATES[] = {
        [CIRCUIT_CLOSED] = "closed", [CIRCUIT_OPEN] = "open", [CIRCUIT_TRYING] = "trying"};
    static const char *const KINDS[] = {
        [GATEWAY_HTTP_SMS] = "http-sms", [GATEWAY_MAIL] = "mail", [GATEWAY_SPOOL] = "spool"};

    return json_pack("{s:s, s:s, s:s, s:i, s:i, s:b}", "name", line->name, "kind",
                     KINDS[line->kind], "circuit", STATES[line->circuit.state], "in_flight",
                     line->circuit.in_flight, "failures", line->circuit.failures, "sends",
                     line->kind != GATEWAY_SPOOL);
}
