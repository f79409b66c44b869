/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/relay/reach.h"

#include <string.h>

#define KNOCK_MS (8 * SECOND_MS)
#define ROUND_FIRST_MS (30 * SECOND_MS)
#define ROUND_MOST_MS MINUTE_MS /* a knock is cheap, and an alert may be waiting */
#define HOSTS_FEWEST 2          /* one alone says nothing of the line */

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
    bool stopped;
    int64_t since_ms;      /* of the first sign of what is now found out, or lasts */
    int64_t wait_ms;       /* until the next round */
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
    } PORTS[] = {{"http://", 80}, {"https://", 443}, {"smtp://", 25}, {"smtps://", 465}};

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

/* Each host of the gateways once. */
static GPtrArray *hosts_of(const Reach *reach)
{
    const Clinic *clinic = settings_clinic(desk_settings(reach->desk));
    GPtrArray *hosts = g_ptr_array_new_with_free_func(g_free);

    for (guint i = 0; i < clinic->gateways->len; i++) {
        const Gateway *gateway = clinic->gateways->pdata[i];
        const char *url = gateway->kind == GATEWAY_HTTP_SMS ? gateway->send.url
                          : gateway->kind == GATEWAY_MAIL   ? gateway->smtp->url
                                                            : NULL;
        char *host = reach_host(url);
        if (host != NULL && !g_ptr_array_find_with_equal_func(hosts, host, g_str_equal, NULL))
            g_ptr_array_add(hosts, host);
        else
            g_free(host);
    }
    return hosts;
}

static void turn(Reach *reach, bool down)
{
    if (reach->down == down) return;
    reach->down = down;
    reach->wait_ms = ROUND_FIRST_MS;
    if (!down) timer_set(reach->timer, CLOCK_NEVER);
    reach->turned(down, reach->since_ms, reach->context);
}

static void end_round(Reach *reach)
{
    reach->knocking = false;
    reach->not_before_ms = now_of(reach) + ROUND_FIRST_MS;
    if (reach->stopped) return;
    turn(reach, !reach->answered);
    if (!reach->down) {
        reach->cleared(reach->context);
        return;
    }
    timer_set(reach->timer, now_of(reach) + reach->wait_ms);
    reach->wait_ms = MIN(reach->wait_ms * 2, ROUND_MOST_MS);
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
    reach->answered = reach->hosts->len < HOSTS_FEWEST;
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
    bool lately = now < reach->not_before_ms && reach->not_before_ms - now <= ROUND_FIRST_MS;
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
                     .hosts = g_ptr_array_new_with_free_func(g_free),
                     .wait_ms = ROUND_FIRST_MS};
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
