/* SPDX-License-Identifier: Apache-2.0 */
/* One claim job runs at a time for each line; the recorder writes down what became of messages. */
#include "daemon/relay/relay.h"

#include <string.h>

#include "daemon/relay/line.h"

#define GIVEN_UP_AT_ONCE 256

struct Relay {
    LineShare share;
    bool running;
    bool starting;
    bool stopped;
    GPtrArray *lines;        /* of Line, in the order of the settings */
    int64_t next_send_ms[2]; /* by channel: sms, email */
    bool giving_up;          /* on what no gateway takes */
    Timer *timer;
};

typedef struct {
    Relay *relay;
    Line *line;
    Channel channels[2];
    int n_channels;
    int limit;
    GPtrArray *claims;
} ClaimErrand;

static void pump(Relay *relay);

/* The channels that a gateway of that kind serves. A spool takes what no other gateway of the clinic does. */
static void channels_of(const Relay *relay, const Line *line, ClaimErrand *errand)
{
    bool sms = line_kind(line) == GATEWAY_HTTP_SMS;
    bool mail = line_kind(line) == GATEWAY_MAIL;

    if (line_kind(line) == GATEWAY_SPOOL) {
        sms = mail = true;
        for (guint i = 0; i < relay->lines->len; i++) {
            const Line *other = relay->lines->pdata[i];
            if (line_has_left(other)) continue;
            sms = sms && line_kind(other) != GATEWAY_HTTP_SMS;
            mail = mail && line_kind(other) != GATEWAY_MAIL;
        }
    }
    if (sms) errand->channels[errand->n_channels++] = CHANNEL_SMS;
    if (mail) errand->channels[errand->n_channels++] = CHANNEL_EMAIL;
}

static bool claim_job(Job *job, void *context)
{
    ClaimErrand *errand = context;
    const Gateway *gateway = clinic_gateway(job->clinic, line_name(errand->line));

    for (int i = 0; job->sender && gateway != NULL && i < errand->n_channels; i++) {
        int left = errand->limit - (int)errand->claims->len;
        if (left > 0) settle_claim(job, errand->channels[i], gateway, left, errand->claims);
    }
    return true;
}

static void claim_done(StoreStatus status, void *context)
{
    ClaimErrand *errand = context;

    /* With the job undone the claims are none: the rows still wait. */
    if (status == STORE_OK)
        g_ptr_array_set_free_func(errand->claims, NULL);
    else
        g_ptr_array_set_size(errand->claims, 0);
    line_claimed(errand->line, errand->claims);
    g_ptr_array_unref(errand->claims);
    pump(errand->relay);
    g_free(errand);
}

/* Has a message of one of the channels come due? Else *again_ms is lowered to when one will. */
static bool has_work(const Relay *relay, const ClaimErrand *errand, int64_t now_ms,
                     int64_t *again_ms)
{
    bool ready = false;

    for (int i = 0; i < errand->n_channels; i++) {
        int64_t next = relay->next_send_ms[errand->channels[i]];
        ready = ready || next <= now_ms;
        if (next > now_ms) *again_ms = MIN(*again_ms, next);
    }
    return ready;
}

static void claim_for(Relay *relay, Line *line, int64_t now_ms, int64_t *again_ms)
{
    ClaimErrand wish = {.relay = relay, .line = line};

    if (line_has_left(line)) return;
    channels_of(relay, line, &wish);
    if (!has_work(relay, &wish, now_ms, again_ms)) return;
    wish.limit = line_room(line, now_ms, again_ms);
    if (wish.limit <= 0) return;
    ClaimErrand *errand = g_new0(ClaimErrand, 1);
    *errand = wish;
    errand->claims = g_ptr_array_new_with_free_func((GDestroyNotify)claim_free);
    line_claiming(line);
    desk_submit(relay->share.desk, claim_job, claim_done, errand);
}

/* --- what no gateway takes --- */

static bool give_up_job(Job *job, void *context)
{
    (void)context;
    if (job->sender) settle_untaken(job, GIVEN_UP_AT_ONCE);
    return true;
}

static void gave_up(StoreStatus status, void *context)
{
    Relay *relay = context;

    relay->giving_up = false;
    if (status == STORE_OK) pump(relay);
}

/* A message of a channel for which the settings have no gateway would wait for ever. */
static void give_up_untaken(Relay *relay, int64_t now_ms)
{
    const Clinic *clinic = settings_clinic(desk_settings(relay->share.desk));
    bool sms =
        relay->next_send_ms[CHANNEL_SMS] <= now_ms && !clinic_takes(clinic, GATEWAY_HTTP_SMS);
    bool mail = relay->next_send_ms[CHANNEL_EMAIL] <= now_ms && !clinic_takes(clinic, GATEWAY_MAIL);

    if (relay->giving_up || !(sms || mail)) return;
    relay->giving_up = true;
    desk_submit(relay->share.desk, give_up_job, gave_up, relay);
}

/* Sends what is ready and claims for each gateway that has room; sets the timer for the rest. */
static void pump(Relay *relay)
{
    Desk *desk = relay->share.desk;
    int64_t now = clock_now(desk_clock(desk));
    int64_t again = CLOCK_NEVER;

    if (!desk_is_full(desk)) recorder_unblock(relay->share.recorder);
    for (guint i = 0; i < relay->lines->len; i++) {
        line_send(relay->lines->pdata[i], now, &again);
        if (relay->running && !desk_is_full(desk))
            claim_for(relay, relay->lines->pdata[i], now, &again);
    }
    if (relay->running && !desk_is_full(desk)) give_up_untaken(relay, now);
    timer_set(relay->timer, again);
}

static void on_moved(void *context)
{
    pump(context);
}

static void on_timer(void *context)
{
    Relay *relay = context;

    recorder_flush(relay->share.recorder);
    pump(relay);
}

void relay_next(Relay *relay, int64_t sms_ms, int64_t email_ms)
{
    relay->next_send_ms[CHANNEL_SMS] = sms_ms;
    relay->next_send_ms[CHANNEL_EMAIL] = email_ms;
    pump(relay);
}

static Line *line_of(Relay *relay, const char *name)
{
    for (guint i = 0; i < relay->lines->len; i++)
        if (strcmp(line_name(relay->lines->pdata[i]), name) == 0) return relay->lines->pdata[i];
    return NULL;
}

void relay_reload(Relay *relay)
{
    const Clinic *clinic = settings_clinic(desk_settings(relay->share.desk));

    /* A line that left the settings stays, idle, until osierd stops: what is in flight on it still refers to it. */
    for (guint i = 0; i < clinic->gateways->len; i++) {
        const Gateway *gateway = clinic->gateways->pdata[i];
        Line *line = line_of(relay, gateway->name);
        if (line == NULL)
            g_ptr_array_add(relay->lines, line_new(&relay->share, gateway));
        else
            line_update(line, gateway);
    }
}

Relay *relay_new(Desk *desk, Net *net, const char *spool_dir, bool one_at_a_time)
{
    Relay *relay = g_new0(Relay, 1);

    relay->share = (LineShare){.desk = desk,
                               .net = net,
                               .recorder = recorder_new(desk, on_moved, relay),
                               .spool_dir = g_strdup(spool_dir),
                               .one_at_a_time = one_at_a_time,
                               .moved = on_moved,
                               .context = relay};
    relay->lines = g_ptr_array_new_with_free_func((GDestroyNotify)line_free);
    relay->next_send_ms[CHANNEL_SMS] = relay->next_send_ms[CHANNEL_EMAIL] = CLOCK_NEVER;
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

    relay->starting = false;
    relay->running = status == STORE_OK && !relay->stopped;
}

/* Once only: to a second job of that sort what is being written now would look interrupted. */
void relay_start(Relay *relay)
{
    if (relay->starting || relay->running) return;
    relay->starting = true;
    desk_submit(relay->share.desk, interrupted_job, started, relay);
}

void relay_again(Relay *relay)
{
    if (!relay->running && !relay->stopped) relay_start(relay);
    recorder_flush(relay->share.recorder);
}

void relay_stop(Relay *relay)
{
    relay->stopped = true;
    relay->running = false;
    for (guint i = 0; i < relay->lines->len; i++)
        line_stop(relay->lines->pdata[i]);
    recorder_flush(relay->share.recorder);
}

int relay_busy(const Relay *relay)
{
    /* While the device is full they wait for a timer. */
    int busy = desk_is_full(relay->share.desk) ? 0 : recorder_waiting(relay->share.recorder);

    for (guint i = 0; i < relay->lines->len; i++)
        busy += line_busy(relay->lines->pdata[i]);
    return busy;
}

void relay_free(Relay *relay)
{
    if (relay == NULL) return;
    timer_free(relay->timer);
    g_ptr_array_unref(relay->lines);
    recorder_free(relay->share.recorder);
    g_free(relay->share.spool_dir);
    g_free(relay);
}

json_t *relay_json(const Relay *relay)
{
    json_t *lines = json_array();

    for (guint i = 0; i < relay->lines->len; i++)
        json_array_append_new(lines, line_json(relay->lines->pdata[i]));
    return lines;
}
