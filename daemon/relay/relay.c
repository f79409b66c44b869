/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/relay/relay.h"

#include <string.h>

#include "core/clinic/repeat.h"
#include "daemon/intake/unheard.h"
#include "daemon/relay/claiming.h"
#include "daemon/relay/detour.h"
#include "daemon/relay/line.h"
#include "daemon/relay/relay_jobs.h"

/* Back after so long is worth the clinic's knowing: nothing was heard meanwhile. */
#define DOWN_WORTH_MS (10 * MINUTE_MS)

struct Relay {
    LineShare share;
    bool running;
    bool starting;
    bool stopped;
    GPtrArray *lines; /* of Line, in the order of the settings */
    Claiming claiming;
    bool giving_up; /* on what no gateway takes */
    Detour *detour;
    Timer *timer;
    Unheard down; /* the clinic's line */
    Timer *down_timer;
    RelayBack *back;
    void *back_context;
};

static void pump(Relay *relay);

static Line *line_of(Relay *relay, const char *name)
{
    for (guint i = 0; i < relay->lines->len; i++)
        if (strcmp(line_name(relay->lines->pdata[i]), name) == 0) return relay->lines->pdata[i];
    return NULL;
}

static bool is_up(const Gateway *gateway, void *context)
{
    const Line *line = line_of(context, gateway->name);

    return line != NULL && line_is_up(line);
}

/* --- claimed while they are made --- */

/* The line that takes all texts, whoever they are for, and can be given them so; NULL where there is a choice or none. */
static Line *line_for_texts(Relay *relay, const Gateway **gateway)
{
    const Clinic *clinic = settings_clinic(desk_settings(relay->share.desk));
    Line *only = NULL;

    for (guint i = 0; i < clinic->gateways->len; i++) {
        const Gateway *each = clinic->gateways->pdata[i];
        if (!route_serves(clinic, each, CHANNEL_SMS)) continue;
        if (only != NULL) return NULL;
        only = line_of(relay, each->name);
        *gateway = each;
    }
    return only;
}

Grant *relay_grant(Relay *relay, int most)
{
    Desk *desk = relay->share.desk;
    const Gateway *gateway = NULL;

    if (!relay->running || !desk_is_sender(desk) || desk_is_full(desk)) return NULL;
    Line *line = line_for_texts(relay, &gateway);
    if (line == NULL || !line_is_up(line) || gateway_class(gateway) == GATEWAY_BLIND) return NULL;
    g_autoptr(Route) choice =
        route_new(settings_clinic(desk_settings(desk)), gateway, CHANNEL_SMS, is_up, relay);
    int room = line_room_for_grant(line, clock_now(desk_clock(desk)), most);
    if (choice != NULL || room == 0) return NULL;
    line_promise(line, room);
    return grant_new(CHANNEL_SMS, gateway->name, room);
}

void relay_granted(Relay *relay, Grant *grant, bool kept)
{
    if (grant == NULL) return;
    Line *line = line_of(relay, grant->gateway);
    line_promise(line, -grant->most);
    if (kept) line_take(line, grant->claims);
    grant_free(grant);
    pump(relay);
}

/* Only the replica that sends has its programs running. */
static void want_programs(Relay *relay)
{
    bool runs = relay->running && desk_is_sender(relay->share.desk);

    for (guint i = 0; i < relay->lines->len; i++)
        line_want(relay->lines->pdata[i], runs);
}

/* A gateway that fell ill or got well leaves or takes work of the others. */
static void wake_lines(Relay *relay)
{
    if (!relay->share.turned) return;
    relay->share.turned = false;
    for (guint i = 0; i < relay->lines->len; i++)
        line_rest_until(relay->lines->pdata[i], 0);
}

static void look_for_detours(Relay *relay, int64_t now_ms, int64_t *again_ms)
{
    if (!relay->running || desk_is_full(relay->share.desk)) return;
    for (Channel channel = CHANNEL_SMS; channel <= CHANNEL_EMAIL; channel++)
        if (relay->claiming.next_send_ms[channel] <= now_ms)
            detour_look(relay->detour, channel, now_ms, again_ms);
}

/* --- what no gateway takes --- */

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
    bool untaken = false;

    for (Channel channel = CHANNEL_SMS; channel <= CHANNEL_EMAIL; channel++)
        untaken |= relay->claiming.next_send_ms[channel] <= now_ms && !route_takes(clinic, channel);
    if (relay->giving_up || !untaken) return;
    relay->giving_up = true;
    desk_submit(relay->share.desk, relay_give_up_job, gave_up, relay);
}

/* Sends what is ready and claims for each gateway that has room; sets the timer for the rest. */
static void pump(Relay *relay)
{
    Desk *desk = relay->share.desk;
    int64_t now = clock_now(desk_clock(desk));
    int64_t again = CLOCK_NEVER;

    if (!desk_is_full(desk)) recorder_unblock(relay->share.recorder);
    want_programs(relay);
    wake_lines(relay);
    for (guint i = 0; i < relay->lines->len; i++)
        line_send(relay->lines->pdata[i], now, &again);
    wake_lines(relay);
    /* One that was ill goes first: else another takes what it could be tried with. */
    for (int well = 0; well < 2 && relay->running && !desk_is_full(desk); well++)
        for (guint i = 0; i < relay->lines->len; i++)
            if (line_is_up(relay->lines->pdata[i]) == (well == 1))
                claiming_try(&relay->claiming, relay->lines->pdata[i], now, &again);
    look_for_detours(relay, now, &again);
    if (relay->running && !desk_is_full(desk)) give_up_untaken(relay, now);
    timer_set(relay->timer, again);
}

static void on_moved(void *context)
{
    pump(context);
}

/* --- the clinic's line --- */

static int64_t now_of(const Relay *relay)
{
    return clock_now(desk_clock(relay->share.desk));
}

static void on_down(void *context)
{
    Relay *relay = context;

    unheard_note(&relay->down);
    timer_set(relay->down_timer, now_of(relay) + UNHEARD_EVERY_MS);
}

static void on_line(bool down, int64_t since_ms, void *context)
{
    Relay *relay = context;

    relay->share.turned = true;
    log_line(desk_log(relay->share.desk), LOG_WARNINGS, down ? "line.down" : "line.up", NULL);
    if (down) {
        unheard_begin(&relay->down, since_ms);
        timer_set(relay->down_timer, since_ms + UNHEARD_EVERY_MS);
    } else {
        timer_set(relay->down_timer, CLOCK_NEVER);
        for (guint i = 0; i < relay->lines->len; i++)
            line_revive(relay->lines->pdata[i]);
        if (now_of(relay) - relay->down.since_ms >= DOWN_WORTH_MS) unheard_note(&relay->down);
        desk_submit(relay->share.desk, relay_return_job, NULL, NULL);
        if (relay->back != NULL) relay->back(relay->back_context);
    }
    pump(relay);
}

static void on_clear(void *context)
{
    Relay *relay = context;

    for (guint i = 0; i < relay->lines->len; i++)
        line_blame(relay->lines->pdata[i]);
}

void relay_note(Relay *relay, bool unreachable)
{
    reach_note(relay->share.reach, unreachable);
}

void relay_watch(Relay *relay, RelayBack *back, void *context)
{
    relay->back = back;
    relay->back_context = context;
}

static void on_timer(void *context)
{
    Relay *relay = context;

    recorder_flush(relay->share.recorder);
    pump(relay);
}

void relay_next(Relay *relay, int64_t sms_ms, int64_t email_ms, bool posted)
{
    relay->share.turned = relay->share.turned || posted;
    relay->claiming.next_send_ms[CHANNEL_SMS] = sms_ms;
    relay->claiming.next_send_ms[CHANNEL_EMAIL] = email_ms;
    if (posted) reach_look(relay->share.reach);
    pump(relay);
}

void relay_recall(Relay *relay, const GPtrArray *clients)
{
    for (guint i = 0; i < relay->lines->len; i++)
        line_recall(relay->lines->pdata[i], clients);
    recorder_flush(relay->share.recorder);
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
    relay->share.turned = true;
    if (relay->running) desk_submit(relay->share.desk, relay_unbind_job, NULL, NULL);
}

static void on_courier(void *context)
{
    Relay *relay = context;

    relay->share.turned = true;
    pump(relay);
}

static void on_ill(const char *gateway, void *context)
{
    Relay *relay = context;

    recorder_sick(relay->share.recorder, gateway);
    recorder_flush(relay->share.recorder);
}

Relay *relay_new(Desk *desk, Net *net, const RelayPlace *place)
{
    Relay *relay = g_new0(Relay, 1);

    relay->share = (LineShare){.desk = desk,
                               .net = net,
                               .recorder = recorder_new(desk, on_moved, relay),
                               .reach = reach_new(desk, net, on_line, on_clear, relay),
                               .spool_dir = g_strdup(place->spool_dir),
                               .one_at_a_time = place->one_at_a_time,
                               .couriers = {.desk = desk,
                                            .loop = place->loop,
                                            .folder = g_strdup(place->folder),
                                            .turned = on_courier,
                                            .ill = on_ill,
                                            .context = relay},
                               .moved = on_moved,
                               .context = relay};
    relay->lines = g_ptr_array_new_with_free_func((GDestroyNotify)line_free);
    relay->claiming = (Claiming){.desk = desk,
                                 .up = is_up,
                                 .next_send_ms = {CLOCK_NEVER, CLOCK_NEVER},
                                 .done = on_moved,
                                 .context = relay};
    relay->detour = detour_new(desk, is_up, relay);
    relay->timer = timer_new(desk_clock(desk), on_timer, relay);
    unheard_init(&relay->down, desk, g_strdup("the clinic's line was down"));
    relay->down_timer = timer_new(desk_clock(desk), on_down, relay);
    relay_reload(relay);
    return relay;
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
    desk_submit(relay->share.desk, relay_interrupted_job, started, relay);
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
    if (relay_is_cut_off(relay)) unheard_note(&relay->down);
    timer_set(relay->down_timer, CLOCK_NEVER);
    reach_stop(relay->share.reach);
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
    timer_free(relay->down_timer);
    unheard_clear(&relay->down);
    detour_free(relay->detour);
    g_ptr_array_unref(relay->lines);
    recorder_free(relay->share.recorder);
    reach_free(relay->share.reach);
    g_free(relay->share.spool_dir);
    g_free((char *)relay->share.couriers.folder);
    g_free(relay);
}

json_t *relay_json(const Relay *relay)
{
    json_t *lines = json_array();

    for (guint i = 0; i < relay->lines->len; i++)
        json_array_append_new(lines, line_json(relay->lines->pdata[i]));
    return lines;
}

char *relay_why(Relay *relay, Channel channel, const char *to)
{
    const Clinic *clinic = settings_clinic(desk_settings(relay->share.desk));
    g_autofree char *why = NULL;

    for (guint i = 0; i < clinic->gateways->len; i++) {
        const Gateway *gateway = clinic->gateways->pdata[i];
        const Line *line = line_of(relay, gateway->name);
        if (line == NULL || !route_serves(clinic, gateway, channel) || !route_reaches(gateway, to))
            continue;
        if (line_is_up(line)) return NULL;
        if (why == NULL) why = line_why(line);
    }
    return g_steal_pointer(&why);
}

bool relay_is_cut_off(const Relay *relay)
{
    return reach_is_down(relay->share.reach);
}

bool relay_blames(Relay *relay, const char *gateway)
{
    const Line *line = line_of(relay, gateway);

    return line != NULL && line_is_blamed(line);
}

json_t *relay_line_json(const Relay *relay)
{
    return reach_json(relay->share.reach);
}
