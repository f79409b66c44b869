/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/relay/reach.h"

#include <string.h>

#include "adapters/store/find_work.h"

/* A knock makes a connection and ends it. The next round of them comes after a sixteenth of the time that the line has been
 * down: a short break is found over at once, a long one costs little. */
#define KNOCK_MS (8 * SECOND_MS)
#define ROUND_SHARE 16
#define ROUND_LEAST_MS SECOND_MS
#define ROUND_MOST_MS MINUTE_MS
#define ROUND_URGED_MS (5 * SECOND_MS) /* at most, while an alert or a safety text waits */
#define CALM_MS (30 * SECOND_MS)       /* after a round that found the line up */

struct Reach {
    Desk *desk;
    Net *net;
    ReachTurned *turned;
    ReachCleared *cleared;
    void *context;
    Timer *timer;
    GPtrArray *hosts; /* of a round: of URLs */
    guint next;       /* whose turn it is */
    bool knocking;
    bool answered; /* in this round, or meanwhile */
    bool down;
    bool urged;  /* an alert or a safety text waits for the line */
    bool asking; /* whether one does */
    bool found;  /* the answer, written on the store thread while that is asked */
    bool stopped;
    int64_t since_ms;      /* of the first sign of what is now found out, or lasts */
    int64_t not_before_ms; /* no new round while the line is up */
};

static int64_t now_of(const Reach *reach)
{
    return clock_now(desk_clock(reach->desk));
}

char *reach_host(const char *url)
{
    static const struct {
        const char *scheme;
        int port;
    } PORTS[] = {{"http://", 80},   {"https://", 443}, {"smtp://", 25},
                 {"smtps://", 465}, {"imap://", 143},  {"imaps://", 993}};

    for (size_t i = 0; url != NULL && i < G_N_ELEMENTS(PORTS); i++) {
        if (!g_str_has_prefix(url, PORTS[i].scheme)) continue;
        const char *host = url + strlen(PORTS[i].scheme);
        size_t length = strcspn(host, "/?#");
        size_t closing = strcspn(host, "]"); /* [::1]:80 */
        const char *colon = memchr(host, ':', length);
        if (closing < length) colon = memchr(host + closing, ':', length - closing);
        if (length == 0) return NULL;
        if (colon != NULL) return g_strdup_printf("http://%.*s/", (int)length, host);
        return g_strdup_printf("http://%.*s:%d/", (int)length, host, PORTS[i].port);
    }
    return NULL;
}

static void add_host(GPtrArray *hosts, const char *url)
{
    char *host = reach_host(url);

    if (host != NULL && !g_ptr_array_find_with_equal_func(hosts, host, g_str_equal, NULL))
        g_ptr_array_add(hosts, host);
    else
        g_free(host);
}

/* Each host of the gateways once: those that send, and those that are asked for what came. */
static GPtrArray *hosts_of(const Reach *reach)
{
    const Clinic *clinic = settings_clinic(desk_settings(reach->desk));
    GPtrArray *hosts = g_ptr_array_new_with_free_func(g_free);

    for (guint i = 0; i < clinic->gateways->len; i++) {
        const Gateway *gateway = clinic->gateways->pdata[i];
        if (gateway->kind == GATEWAY_HTTP_SMS) add_host(hosts, gateway->send.url);
        if (gateway->kind == GATEWAY_MAIL) add_host(hosts, gateway->smtp->url);
        if (gateway->poll != NULL) add_host(hosts, gateway->poll->url);
        if (gateway->imap != NULL) add_host(hosts, gateway->imap->url);
    }
    return hosts;
}

static void turn(Reach *reach, bool down)
{
    if (reach->down == down) return;
    reach->down = down;
    reach->urged = false;
    if (!down) timer_set(reach->timer, CLOCK_NEVER);
    reach->turned(down, reach->since_ms, reach->context);
}

/* Until the next round. */
static int64_t wait_of(const Reach *reach)
{
    int64_t share_ms = (now_of(reach) - reach->since_ms) / ROUND_SHARE;

    return CLAMP(share_ms, ROUND_LEAST_MS, reach->urged ? ROUND_URGED_MS : ROUND_MOST_MS);
}

/* --- what waits --- */

static bool urgent_job(Job *job, void *context)
{
    Reach *reach = context;

    reach->found = job->sender && find_urgent(job->tx);
    return true;
}

static void urgent_done(StoreStatus status, void *context)
{
    Reach *reach = context;

    reach->asking = false;
    if (status != STORE_OK || !reach->found || !reach->down || reach->urged) return;
    reach->urged = true;
    if (reach->knocking || reach->stopped) return;
    timer_set(reach->timer, MIN(timer_at(reach->timer), now_of(reach) + wait_of(reach)));
}

void reach_look(Reach *reach)
{
    if (!reach->down || reach->urged || reach->asking || reach->stopped) return;
    reach->asking = true;
    desk_submit(reach->desk, urgent_job, urgent_done, reach);
}

/* --- knocking --- */

static void end_round(Reach *reach)
{
    reach->knocking = false;
    reach->not_before_ms = now_of(reach) + CALM_MS;
    if (reach->stopped) return;
    turn(reach, !reach->answered);
    if (!reach->down) {
        reach->cleared(reach->context);
        return;
    }
    timer_set(reach->timer, now_of(reach) + wait_of(reach));
    reach_look(reach);
}

static void knock(Reach *reach);

static void on_knock(WireResponse *response, void *context)
{
    Reach *reach = context;

    reach->answered = reach->answered || !response->unreachable;
    wire_response_free(response);
    knock(reach);
}

/* At the next host, or the end of the round. */
static void knock(Reach *reach)
{
    if (reach->answered || reach->stopped || reach->next >= reach->hosts->len) {
        end_round(reach);
        return;
    }
    WireRequest *request = wire_request_new(EXCHANGE_KNOCK, reach->hosts->pdata[reach->next++]);
    request->timeout_ms = KNOCK_MS;
    net_submit(reach->net, request, on_knock, reach);
}

static void begin_round(Reach *reach)
{
    g_ptr_array_unref(reach->hosts);
    reach->hosts = hosts_of(reach);
    reach->next = 0;
    reach->answered = reach->hosts->len == 0;
    reach->knocking = true;
    knock(reach);
}

static void on_timer(void *context)
{
    Reach *reach = context;

    if (reach->down && !reach->knocking && !reach->stopped) begin_round(reach);
}

void reach_note(Reach *reach, bool unreachable)
{
    int64_t now = now_of(reach);

    if (!unreachable) {
        reach->answered = true;
        turn(reach, false);
        return;
    }
    bool lately = now < reach->not_before_ms && reach->not_before_ms - now <= CALM_MS;
    if (reach->down || reach->knocking || reach->stopped || lately) return;
    reach->since_ms = now;
    begin_round(reach);
}

bool reach_is_down(const Reach *reach)
{
    return reach->down;
}

bool reach_is_unclear(const Reach *reach)
{
    return reach->knocking;
}

void reach_stop(Reach *reach)
{
    reach->stopped = true;
    timer_set(reach->timer, CLOCK_NEVER);
}

Reach *reach_new(Desk *desk, Net *net, ReachTurned *turned, ReachCleared *cleared, void *context)
{
    Reach *reach = g_new0(Reach, 1);

    *reach = (Reach){.desk = desk,
                     .net = net,
                     .turned = turned,
                     .cleared = cleared,
                     .context = context,
                     .hosts = g_ptr_array_new_with_free_func(g_free)};
    reach->timer = timer_new(desk_clock(desk), on_timer, reach);
    return reach;
}

void reach_free(Reach *reach)
{
    if (reach == NULL) return;
    timer_free(reach->timer);
    g_ptr_array_unref(reach->hosts);
    g_free(reach);
}

json_t *reach_json(const Reach *reach)
{
    g_autofree char *since = reach->down ? instant_format(reach->since_ms) : NULL;

    return json_pack("{s:b, s:s?}", "down", reach->down, "since", since);
}
