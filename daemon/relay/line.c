/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/relay/line.h"

#include <string.h>

#include "daemon/relay/carry.h"
#include "daemon/relay/circuit.h"
#include "daemon/relay/doubts.h"
#include "daemon/relay/pace.h"

#define BATCH 256        /* claimed at once, and held ready */
#define BATCH_STEPPED 32 /* one exchange at a time needs no more */
#define GATE_HOLDS_MS (15 * SECOND_MS)
/* A quick one is granted what it sends in three spans at its pace, and no more than this. */
#define GRANTED_MOST (4 * BATCH)

struct Line {
    LineShare *share;
    Courier *courier; /* of a program, else NULL */
    char *name;
    GatewayKind kind;
    Circuit circuit;
    int64_t rest_until_ms;
    bool claiming;
    int promised; /* being claimed, by claim jobs and by grants */
    Pace pace;
    bool stopped;
    GQueue ready; /* of Claim */
    Doubts *doubts;
    char *problem; /* why no connection, or none that is trusted, came about last; NULL: it did */
};

/* Does it go by the clinic's line, and is that down? */
static bool is_cut_off(const Line *line)
{
    bool by_line = line->kind == GATEWAY_HTTP_SMS || line->kind == GATEWAY_MAIL;

    return by_line && reach_is_down(line->share->reach);
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

/* Told once, when it begins: the words are libcurl's and hold nothing of a message. Where the clinic's line is down, that is
 * told instead. */
static void note_problem(Line *line, const WireResponse *response)
{
    const char *why =
        response->phase == PHASE_NEVER_LEFT && !response->end_passed ? response->error : NULL;

    if (why != NULL && line->problem == NULL && !is_cut_off(line))
        log_line(desk_log(line->share->desk), LOG_WARNINGS, "gateway.unreached", "gateway",
                 line->name, "why", why, NULL);
    g_free(line->problem);
    line->problem = g_strdup(why);
}

/* A sick gateway is told of, once. Not while the clinic's line is down, or that is being found out: see line_blame. */
static void blame(Line *line)
{
    Circuit *circuit = &line->circuit;
    const Reach *reach = line->share->reach;

    if (circuit->state != CIRCUIT_OPEN || circuit->told) return;
    if (reach_is_unclear(reach) || reach_is_down(reach)) return;
    circuit->told = true;
    recorder_sick(line->share->recorder, line->name);
    log_line(desk_log(line->share->desk), LOG_ERRORS, "gateway.sick", "gateway", line->name, "why",
             line->problem, NULL);
}

/* What an exchange has shown of the gateway, whoever was at fault. True where a refusal says that the gateway is sick. */
static bool note_circuit(Line *line, Fate fate, const char *to)
{
    Circuit *circuit = &line->circuit;
    bool was_up = line_is_up(line);
    int64_t now = clock_now(desk_clock(line->share->desk));
    bool sick = false;

    if (fate == FATE_ACCEPTED && circuit->state != CIRCUIT_CLOSED)
        log_line(desk_log(line->share->desk), LOG_WARNINGS, "gateway.well", "gateway", line->name,
                 NULL);
    if (fate == FATE_ACCEPTED)
        circuit_succeeded(circuit);
    else if (fate == FATE_REFUSED)
        sick = circuit_refused(circuit, now, to);
    else
        circuit_failed(circuit, now, line->problem != NULL);
    line->share->turned = line->share->turned || was_up != line_is_up(line);
    if (circuit->state == CIRCUIT_OPEN) {
        blame(line);
        give_back(line, "the gateway is sick; it waits");
    }
    return sick;
}

/* A try that could not be made, for the clinic's line is down, is none. */
static OutcomeManner manner_of(const Line *line, const Settlement *settlement, bool sick)
{
    if (sick) return OUTCOME_SICK;
    return settlement->fate == FATE_WAITING && is_cut_off(line) ? OUTCOME_UNTRIED : OUTCOME_PLAIN;
}

/* Records what came of a claim. */
static void finish(Line *line, Claim *claim, Settlement settlement)
{
    Recorder *recorder = line->share->recorder;
    bool sick = note_circuit(line, settlement.fate, claim->to);

    if (settlement.fate == FATE_ACCEPTED || sick) doubts_end(line->doubts, sick);
    if (settlement.fate == FATE_REFUSED && !sick && !line->stopped)
        doubts_hold(line->doubts, claim, settlement, clock_now(desk_clock(line->share->desk)));
    else
        recorder_add(recorder, claim, settlement, manner_of(line, &settlement, sick));
    recorder_flush_soon(recorder, line->share->exchanges == 0);
}

/* The gateway was asked about a claim. One that has none is well, and the message may go anywhere. */
static void finish_asked(Line *line, Claim *claim, Settlement settlement)
{
    Recorder *recorder = line->share->recorder;
    bool none = settlement.fate == FATE_WAITING;

    note_circuit(line, none ? FATE_ACCEPTED : settlement.fate, claim->to);
    recorder_add(recorder, claim, settlement, none ? OUTCOME_FREED : OUTCOME_PLAIN);
    recorder_flush_soon(recorder, line->share->exchanges == 0);
}

/* --- sending --- */

static void on_carried(Claim *claim, Settlement settlement, bool asked,
                       const WireResponse *response, void *context)
{
    Line *line = context;
    LineShare *share = line->share;

    if (response != NULL) {
        if (response->unreachable || response->phase == PHASE_ANSWERED)
            reach_note(share->reach, response->unreachable);
        note_problem(line, response);
    }
    if (asked)
        finish_asked(line, claim, settlement);
    else
        finish(line, claim, settlement);
    share->moved(share->context);
}

static void send_one(Line *line, Claim *claim)
{
    Settlement ended;

    circuit_started(&line->circuit);
    if (!carry(line->share, line->name, line->courier, claim, on_carried, line, &ended))
        finish(line, claim, ended);
}

void line_send(Line *line, int64_t now_ms, int64_t *again_ms)
{
    if (doubts_end_old(line->doubts, now_ms, again_ms)) recorder_flush(line->share->recorder);
    bool unready = line->kind == GATEWAY_PROGRAM && !courier_is_ready(line->courier);
    if ((unready || is_cut_off(line)) && !g_queue_is_empty(&line->ready)) {
        give_back(line, unready ? "the program is not ready; it waits"
                                : "the clinic's line is down; it waits");
        recorder_flush(line->share->recorder);
    }
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
            pace_note(&line->pace, now_ms);
            send_one(line, claim);
        }
    }
}

/* --- claims --- */

/* How many more it can hold, of most. */
static int room_of(Line *line, int64_t now_ms, int most, int64_t *again_ms)
{
    int held = (int)g_queue_get_length(&line->ready) + line->promised;

    if (is_cut_off(line)) return 0;
    if (line->kind == GATEWAY_PROGRAM && !courier_is_ready(line->courier)) return 0;
    if (line->kind == GATEWAY_SPOOL) return most - held;
    return circuit_room(&line->circuit, now_ms, most, again_ms) - held;
}

int line_room(Line *line, int64_t now_ms, int64_t *again_ms)
{
    int64_t again = CLOCK_NEVER;
    int most = line->share->one_at_a_time ? BATCH_STEPPED : BATCH;

    if (line->claiming) return 0;
    int room = room_of(line, now_ms, most, &again);
    *again_ms = MIN(*again_ms, again);
    /* Asked for again when half is gone, so that claims stay few and large. */
    return (int)g_queue_get_length(&line->ready) > most / 2 ? 0 : MAX(0, room);
}

void line_claiming(Line *line, bool claiming)
{
    line->claiming = claiming;
}

int line_room_for_grant(Line *line, int64_t now_ms, int most)
{
    int64_t again;
    int quick = 3 * pace_per_span(&line->pace, now_ms);
    int all = line->share->one_at_a_time ? BATCH_STEPPED : CLAMP(quick, 2 * BATCH, GRANTED_MOST);
    int room = room_of(line, now_ms, all, &again);

    return CLAMP(room, 0, most);
}

void line_promise(Line *line, int change)
{
    line->promised += change;
}

void line_take(Line *line, GPtrArray *claims)
{
    for (guint i = 0; i < claims->len; i++)
        g_queue_push_tail(&line->ready, claims->pdata[i]);
    g_ptr_array_set_free_func(claims, NULL);
    g_ptr_array_set_size(claims, 0);
    if (!line->stopped) return;
    give_back(line, "osier is stopping");
    recorder_flush(line->share->recorder);
}

static bool is_for(const Claim *claim, const GPtrArray *clients)
{
    for (guint i = 0; claim->client != NULL && i < clients->len; i++)
        if (strcmp(claim->client, clients->pdata[i]) == 0) return true;
    return false;
}

void line_recall(Line *line, const GPtrArray *clients)
{
    for (GList *each = line->ready.head; each != NULL;) {
        GList *next = each->next;
        if (is_for(each->data, clients)) {
            give_back_one(line, each->data, "something about the client has changed");
            g_queue_delete_link(&line->ready, each);
        }
        each = next;
    }
}

/* --- life --- */

Line *line_new(LineShare *share, const Gateway *gateway)
{
    Line *line = g_new0(Line, 1);

    line->share = share;
    line->name = g_strdup(gateway->name);
    line->doubts = doubts_new(share->recorder);
    g_queue_init(&line->ready);
    circuit_init(&line->circuit, gateway->rate, gateway->concurrency);
    line->courier = courier_new(&share->couriers, gateway->name);
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
    doubts_end(line->doubts, false);
    give_back(line, "osier is stopping");
}

void line_free(Line *line)
{
    Claim *claim;

    while ((claim = g_queue_pop_head(&line->ready)) != NULL)
        claim_free(claim);
    doubts_free(line->doubts);
    courier_free(line->courier);
    circuit_clear(&line->circuit);
    g_free(line->problem);
    g_free(line->name);
    g_free(line);
}

bool line_has_left(const Line *line)
{
    return clinic_gateway(settings_clinic(desk_settings(line->share->desk)), line->name) == NULL;
}

const char *line_name(const Line *line)
{
    return line->name;
}

bool line_is_up(const Line *line)
{
    bool ready = line->kind != GATEWAY_PROGRAM || courier_is_ready(line->courier);

    return line->circuit.state == CIRCUIT_CLOSED && ready && !is_cut_off(line);
}

char *line_why(const Line *line)
{
    bool unready = line->kind == GATEWAY_PROGRAM && !courier_is_ready(line->courier);

    if (line_is_up(line)) return NULL;
    if (is_cut_off(line)) return g_strdup("the clinic's line is down; it waits");
    if (unready)
        return g_strdup_printf(
            "the program of the gateway %s does not run, or is not well; it waits", line->name);
    return g_strdup_printf(
        "the gateway %s is sick%s%s%s; it waits", line->name, line->problem != NULL ? " (" : "",
        line->problem != NULL ? line->problem : "", line->problem != NULL ? ")" : "");
}

bool line_is_blamed(const Line *line)
{
    return line->circuit.told && line->circuit.state != CIRCUIT_CLOSED;
}

void line_want(Line *line, bool runs)
{
    courier_want(line->courier, runs);
}

void line_revive(Line *line)
{
    if (line->circuit.told) return;
    circuit_revive(&line->circuit);
}

void line_blame(Line *line)
{
    blame(line);
    recorder_flush(line->share->recorder);
}

void line_rest_until(Line *line, int64_t at_ms)
{
    line->rest_until_ms = at_ms;
}

int64_t line_rests_until(const Line *line)
{
    return line->rest_until_ms;
}

/* What is ready but held by the brakes is not at work: a step does not wait for it. */
int line_busy(const Line *line)
{
    return line->circuit.in_flight + courier_busy(line->courier);
}

json_t *line_json(const Line *line)
{
    static const char *const STATES[] = {
        [CIRCUIT_CLOSED] = "closed", [CIRCUIT_OPEN] = "open", [CIRCUIT_TRYING] = "trying"};
    static const char *const KINDS[] = {[GATEWAY_HTTP_SMS] = "http-sms",
                                        [GATEWAY_MAIL] = "mail",
                                        [GATEWAY_SPOOL] = "spool",
                                        [GATEWAY_PROGRAM] = "program"};

    json_t *document =
        json_pack("{s:s, s:s, s:b, s:s, s:i, s:i, s:b, s:s?}", "name", line->name, "kind",
                  KINDS[line->kind], "up", line_is_up(line), "circuit", STATES[line->circuit.state],
                  "in_flight", line->circuit.in_flight, "failures", line->circuit.failures, "sends",
                  line->kind != GATEWAY_SPOOL, "problem", line->problem);
    if (line->kind == GATEWAY_PROGRAM)
        json_object_set_new(document, "program", courier_json(line->courier));
    return document;
}
