/* SPDX-License-Identifier: Apache-2.0 */
/* One claim job runs at a time for each gateway; the recorder writes down what became of messages.
 */
#include "daemon/relay/relay.h"

#include <string.h>

#include "adapters/files/spool.h"
#include "adapters/mail/compose.h"
#include "adapters/sms/sms_gateway.h"
#include "daemon/jobs/settle.h"
#include "daemon/relay/circuit.h"
#include "daemon/relay/recorder.h"

#define BATCH 256
#define DOUBT_MS (10 * MINUTE_MS)
#define FULL_WAIT_MS (30 * SECOND_MS)

typedef struct {
    char *name;
    GatewayKind kind;
    Circuit circuit;
    bool claiming;
    GQueue doubts; /* of Doubt: refusals that may be the gateway's fault */
    int64_t doubt_until_ms;
} Line;

typedef struct {
    Claim *claim;
    Settlement settlement;
} Doubt;

struct Relay {
    Desk *desk;
    Net *net;
    char *spool_dir;
    bool one_at_a_time;
    bool running;
    GPtrArray *lines; /* of Line, in the order of the settings */
    GQueue to_send;   /* of Flight: claimed, not yet given to the net */
    Recorder *recorder;
    int exchanges;
    int64_t next_send_ms[2]; /* by channel: sms, email */
    Timer *timer;
};

typedef struct {
    Relay *relay;
    Line *line;
    Claim *claim;
} Flight;

typedef struct {
    Relay *relay;
    Line *line;
    Channel channels[2];
    int n_channels;
    int limit;
    GPtrArray *claims;
} ClaimErrand;

static void pump(Relay *relay);

/* --- outcomes
 * ------------------------------------------------------------------------------------------------------
 */

/* A refusal waits until it is known who is at fault: the next success says the person, a third
 * refusal in a row says the gateway, and after a while it is taken to be the person. */
static void doubt(Line *line, Claim *claim, Settlement settlement, int64_t now_ms)
{
    Doubt *held = g_new0(Doubt, 1);

    *held = (Doubt){.claim = claim, .settlement = settlement};
    g_queue_push_tail(&line->doubts, held);
    line->doubt_until_ms = now_ms + DOUBT_MS;
}

static void end_doubts(Relay *relay, Line *line, bool sick)
{
    Doubt *held;

    while ((held = g_queue_pop_head(&line->doubts)) != NULL) {
        recorder_add(relay->recorder, held->claim, held->settlement, sick);
        g_free(held);
    }
    line->doubt_until_ms = CLOCK_NEVER;
}

static void finish_flight(Flight *flight, Settlement settlement)
{
    Relay *relay = flight->relay;
    Line *line = flight->line;
    Circuit *circuit = &line->circuit;
    int64_t now = clock_now(desk_clock(relay->desk));
    bool sick = false;

    if (settlement.fate == FATE_ACCEPTED)
        circuit_succeeded(circuit);
    else if (settlement.fate == FATE_REFUSED)
        sick = circuit_refused(circuit, now, flight->claim->to);
    else
        circuit_failed(circuit, now);
    if (circuit->state == CIRCUIT_OPEN && !circuit->told) {
        circuit->told = true;
        recorder_sick(relay->recorder, line->name);
    }
    if (settlement.fate == FATE_ACCEPTED || sick) end_doubts(relay, line, sick);
    if (settlement.fate == FATE_REFUSED && !sick)
        doubt(line, flight->claim, settlement, now);
    else
        recorder_add(relay->recorder, flight->claim, settlement, sick);
    g_free(flight);
    recorder_flush(relay->recorder);
}

/* --- exchanges
 * -----------------------------------------------------------------------------------------------------
 */

static const Gateway *gateway_of(Relay *relay, const Line *line)
{
    return clinic_gateway(settings_clinic(desk_settings(relay->desk)), line->name);
}

static void on_answer(WireResponse *response, void *context)
{
    Flight *flight = context;
    Relay *relay = flight->relay;
    const Gateway *gateway = gateway_of(relay, flight->line);
    Settlement settlement = {.fate = FATE_WAITING, .retry_after_s = -1};

    relay->exchanges--;
    if (response->phase == PHASE_NEVER_LEFT || gateway == NULL)
        settlement.reason = g_strdup(
            response->error != NULL ? response->error : "the gateway is gone from the settings");
    else if (flight->line->kind == GATEWAY_MAIL)
        mail_send_settle(response, &settlement);
    else
        sms_send_settle(gateway, response, &settlement);
    wire_response_free(response);
    finish_flight(flight, settlement);
    pump(relay);
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

/* The request for a claim, or NULL with the reason: then the message, as it stands, cannot be sent
 * by that gateway. */
static WireRequest *make_request(Relay *relay, const Flight *flight, const Gateway *gateway,
                                 char **why)
{
    Outgoing message = outgoing_of(flight->claim);
    Settings *settings = desk_settings(relay->desk);

    if (gateway->kind == GATEWAY_HTTP_SMS)
        return sms_send_request(gateway, &message, settings_secret, settings, why);
    g_autofree char *password = NULL;
    if (gateway->smtp->password != NULL)
        password = settings_fill_secret(settings, gateway->smtp->password);
    return mail_send_request(gateway, &message, flight->claim->to_client, password, why);
}

static void send_spool(Relay *relay, Flight *flight)
{
    Outgoing message = outgoing_of(flight->claim);
    g_autofree char *why = NULL;
    Settlement settlement = {.retry_after_s = -1};
    bool written =
        spool_write(relay->spool_dir, &message, clock_now(desk_clock(relay->desk)), &why);

    settlement.fate = written ? FATE_ACCEPTED : FATE_WAITING;
    settlement.reason = g_strdup(written ? "written to the spool folder; nothing was sent" : why);
    finish_flight(flight, settlement);
}

static void send_flight(Relay *relay, Flight *flight)
{
    const Gateway *gateway = gateway_of(relay, flight->line);
    g_autofree char *why = NULL;

    if (gateway != NULL && gateway->kind == GATEWAY_SPOOL) {
        send_spool(relay, flight);
        return;
    }
    WireRequest *request = gateway != NULL ? make_request(relay, flight, gateway, &why) : NULL;
    if (request == NULL) {
        finish_flight(
            flight, (Settlement){.fate = gateway == NULL ? FATE_WAITING : FATE_REFUSED,
                                 .reason = g_strdup(why != NULL ? why : "no such gateway any more"),
                                 .retry_after_s = -1});
        return;
    }
    request->end_ms = flight->claim->end_ms;
    relay->exchanges++;
    net_submit(relay->net, request, on_answer, flight);
}

static void send_claimed(Relay *relay)
{
    while (!g_queue_is_empty(&relay->to_send) && !(relay->one_at_a_time && relay->exchanges > 0))
        send_flight(relay, g_queue_pop_head(&relay->to_send));
}

/* --- claims
 * --------------------------------------------------------------------------------------------------------
 */

static bool claim_job(Job *job, void *context)
{
    ClaimErrand *errand = context;
    const Gateway *gateway = clinic_gateway(job->clinic, errand->line->name);

    for (int i = 0; gateway != NULL && i < errand->n_channels; i++) {
        int left = errand->limit - (int)errand->claims->len;
        if (left > 0) settle_claim(job, errand->channels[i], gateway, left, errand->claims);
    }
    return true;
}

static void claim_done(StoreStatus status, void *context)
{
    ClaimErrand *errand = context;
    Relay *relay = errand->relay;
    int64_t now = clock_now(desk_clock(relay->desk));

    errand->line->claiming = false;
    if (status == STORE_OK) {
        for (guint i = 0; i < errand->claims->len; i++) {
            Flight *flight = g_new0(Flight, 1);
            *flight =
                (Flight){.relay = relay, .line = errand->line, .claim = errand->claims->pdata[i]};
            circuit_started(&errand->line->circuit, now);
            g_queue_push_tail(&relay->to_send, flight);
        }
        g_ptr_array_set_free_func(errand->claims, NULL);
    } else if (status == STORE_FULL) {
        timer_set(relay->timer, now + FULL_WAIT_MS);
    }
    g_ptr_array_unref(errand->claims);
    g_free(errand);
    send_claimed(relay);
}

/* The channels that a gateway of that kind serves. A spool takes what no other gateway of the
 * clinic does. */
static void channels_of(Relay *relay, const Line *line, ClaimErrand *errand)
{
    bool sms = line->kind == GATEWAY_HTTP_SMS;
    bool mail = line->kind == GATEWAY_MAIL;

    if (line->kind == GATEWAY_SPOOL) {
        sms = mail = true;
        for (guint i = 0; i < relay->lines->len; i++) {
            const Line *other = relay->lines->pdata[i];
            sms = sms && other->kind != GATEWAY_HTTP_SMS;
            mail = mail && other->kind != GATEWAY_MAIL;
        }
    }
    if (sms) errand->channels[errand->n_channels++] = CHANNEL_SMS;
    if (mail) errand->channels[errand->n_channels++] = CHANNEL_EMAIL;
}

/* Has a message of one of the gateway's channels come due? */
static bool has_work(const Relay *relay, const ClaimErrand *errand, int64_t now_ms,
                     int64_t *wake_ms)
{
    bool ready = false;

    for (int i = 0; i < errand->n_channels; i++) {
        int64_t next = relay->next_send_ms[errand->channels[i]];
        ready = ready || next <= now_ms;
        if (next > now_ms) *wake_ms = MIN(*wake_ms, next);
    }
    return ready;
}

/* Asks one gateway's brakes and claims if they are off; else says when to ask again. */
static void serve_line(Relay *relay, Line *line, int64_t now, int64_t *wake_ms)
{
    ClaimErrand wish = {.relay = relay, .line = line};
    int64_t again = CLOCK_NEVER;
    bool taken =
        relay->one_at_a_time && (relay->exchanges > 0 || !g_queue_is_empty(&relay->to_send));

    channels_of(relay, line, &wish);
    if (!has_work(relay, &wish, now, wake_ms) || line->claiming || taken) return;
    int slots = circuit_slots(&line->circuit, now, &again);
    *wake_ms = MIN(*wake_ms, again);
    if (slots <= 0) return;
    wish.limit = line->kind == GATEWAY_SPOOL ? BATCH : MIN(slots, BATCH);
    wish.claims = g_ptr_array_new_with_free_func((GDestroyNotify)claim_free);
    ClaimErrand *errand = g_new0(ClaimErrand, 1);
    *errand = wish;
    line->claiming = true;
    desk_submit(relay->desk, claim_job, claim_done, errand);
}

/* Claims for each gateway that is free, and sets the timer for the rest. */
static void pump(Relay *relay)
{
    int64_t now = clock_now(desk_clock(relay->desk));
    int64_t wake = CLOCK_NEVER;

    send_claimed(relay);
    for (guint i = 0; i < relay->lines->len; i++) {
        Line *line = relay->lines->pdata[i];
        if (!g_queue_is_empty(&line->doubts) && line->doubt_until_ms <= now) {
            end_doubts(relay, line, false);
            recorder_flush(relay->recorder);
        }
        wake = MIN(wake, line->doubt_until_ms);
        if (relay->running && !desk_is_full(relay->desk)) serve_line(relay, line, now, &wake);
    }
    if (desk_is_full(relay->desk)) wake = now + FULL_WAIT_MS;
    timer_set(relay->timer, wake);
}

static void on_timer(void *context)
{
    Relay *relay = context;

    recorder_flush(relay->recorder);
    pump(relay);
}

static void on_recorded(void *context)
{
    pump(context);
}

void relay_next(Relay *relay, int64_t sms_ms, int64_t email_ms)
{
    relay->next_send_ms[CHANNEL_SMS] = sms_ms;
    relay->next_send_ms[CHANNEL_EMAIL] = email_ms;
    pump(relay);
}

/* --- life
 * ----------------------------------------------------------------------------------------------------------
 */

static Line *line_of(Relay *relay, const char *name)
{
    for (guint i = 0; i < relay->lines->len; i++) {
        Line *line = relay->lines->pdata[i];
        if (strcmp(line->name, name) == 0) return line;
    }
    return NULL;
}

void relay_reload(Relay *relay)
{
    const Clinic *clinic = settings_clinic(desk_settings(relay->desk));

    /* A line that left the settings stays, idle, until osierd stops: what is in flight on it still
     * refers to it. */
    for (guint i = 0; i < clinic->gateways->len; i++) {
        const Gateway *gateway = clinic->gateways->pdata[i];
        Line *line = line_of(relay, gateway->name);
        if (line == NULL) {
            line = g_new0(Line, 1);
            line->doubt_until_ms = CLOCK_NEVER;
            g_queue_init(&line->doubts);
            line->name = g_strdup(gateway->name);
            circuit_init(&line->circuit, gateway->rate, gateway->concurrency);
            g_ptr_array_add(relay->lines, line);
        }
        line->kind = gateway->kind;
        line->circuit.rate = gateway->rate;
        line->circuit.concurrency = MAX(1, gateway->concurrency);
    }
}

static void line_free(void *data)
{
    Line *line = data;

    circuit_clear(&line->circuit);
    g_free(line->name);
    g_free(line);
}

Relay *relay_new(Desk *desk, Net *net, const char *spool_dir, bool one_at_a_time)
{
    Relay *relay = g_new0(Relay, 1);

    relay->desk = desk;
    relay->net = net;
    relay->spool_dir = g_strdup(spool_dir);
    relay->one_at_a_time = one_at_a_time;
    relay->lines = g_ptr_array_new_with_free_func(line_free);
    relay->recorder = recorder_new(desk, on_recorded, relay);
    relay->next_send_ms[CHANNEL_SMS] = relay->next_send_ms[CHANNEL_EMAIL] = CLOCK_NEVER;
    g_queue_init(&relay->to_send);
    relay->timer = timer_new(desk_clock(desk), on_timer, relay);
    relay_reload(relay);
    return relay;
}

static bool interrupted_job(Job *job, void *context)
{
    (void)context;
    settle_interrupted(job);
    return true;
}

static void started(StoreStatus status, void *context)
{
    Relay *relay = context;

    relay->running = status == STORE_OK;
}

void relay_start(Relay *relay)
{
    desk_submit(relay->desk, interrupted_job, started, relay);
}

void relay_stop(Relay *relay)
{
    relay->running = false;
    for (guint i = 0; i < relay->lines->len; i++)
        end_doubts(relay, relay->lines->pdata[i], false);
    recorder_flush(relay->recorder);
}

int relay_busy(const Relay *relay)
{
    return relay->exchanges + (int)g_queue_get_length((GQueue *)&relay->to_send) +
           recorder_waiting(relay->recorder);
}

void relay_free(Relay *relay)
{
    if (relay == NULL) return;
    timer_free(relay->timer);
    g_ptr_array_unref(relay->lines);
    recorder_free(relay->recorder);
    g_free(relay->spool_dir);
    g_free(relay);
}

static const char *kind_name(GatewayKind kind)
{
    return kind == GATEWAY_SPOOL ? "spool" : kind == GATEWAY_MAIL ? "mail" : "http-sms";
}

json_t *relay_json(const Relay *relay)
{
    static const char *const STATES[] = {
        [CIRCUIT_CLOSED] = "closed", [CIRCUIT_OPEN] = "open", [CIRCUIT_TRYING] = "trying"};
    json_t *lines = json_array();

    for (guint i = 0; i < relay->lines->len; i++) {
        const Line *line = relay->lines->pdata[i];
        json_array_append_new(
            lines, json_pack("{s:s, s:s, s:s, s:i, s:i, s:b}", "name", line->name, "kind",
                             kind_name(line->kind), "circuit", STATES[line->circuit.state],
                             "in_flight", line->circuit.in_flight, "failures",
                             line->circuit.failures, "sends", line->kind != GATEWAY_SPOOL));
    }
    return lines;
}
