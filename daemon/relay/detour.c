/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/relay/detour.h"

#include "daemon/jobs/divert.h"

#define AFTER_MS                                                                                   \
    (5 * MINUTE_MS) /* a short illness is waited out: people expect their usual channel */
#define AGAIN_MS MINUTE_MS

/* One channel's. */
typedef struct {
    int64_t since_ms; /* some address has had no gateway since; 0: each has one */
    int64_t look_ms;  /* not before */
    bool under_way;
} Way;

struct Detour {
    Desk *desk;
    RouteUp *up;
    void *context;
    Way ways[2]; /* by channel */
};

typedef struct {
    Detour *detour;
    Channel from;
    Route *none;
    char *after;
} Errand;

Detour *detour_new(Desk *desk, RouteUp *up, void *context)
{
    Detour *detour = g_new0(Detour, 1);

    *detour = (Detour){.desk = desk, .up = up, .context = context};
    return detour;
}

void detour_free(Detour *detour)
{
    g_free(detour);
}

static bool divert_job(Job *job, void *context)
{
    Errand *errand = context;

    if (job->sender)
        divert_page(job, errand->from, errand->none, &errand->after);
    else
        g_clear_pointer(&errand->after, g_free);
    return true;
}

/* Page by page, each a job of its own. */
static void diverted(StoreStatus status, void *context)
{
    Errand *errand = context;
    Way *way = &errand->detour->ways[errand->from];

    if (status == STORE_OK && errand->after != NULL) {
        desk_submit(errand->detour->desk, divert_job, diverted, errand);
        return;
    }
    way->under_way = false;
    route_free(errand->none);
    g_free(errand->after);
    g_free(errand);
}

static bool leaves_some(const Route *none)
{
    for (guint i = 0; i < none->cases->len; i++)
        if (g_array_index(none->cases, RouteCase, i).turn >= 0) return true;
    return false;
}

static bool has_up(const Detour *detour, const Clinic *clinic, Channel channel)
{
    for (guint i = 0; i < clinic->gateways->len; i++) {
        const Gateway *gateway = clinic->gateways->pdata[i];
        if (route_serves(clinic, gateway, channel) && gateway->kind != GATEWAY_SPOOL &&
            detour->up(gateway, detour->context))
            return true;
    }
    return false;
}

void detour_look(Detour *detour, Channel channel, int64_t now_ms, int64_t *again_ms)
{
    const Clinic *clinic = settings_clinic(desk_settings(detour->desk));
    Way *way = &detour->ways[channel];
    g_autoptr(Route) none = route_new(clinic, NULL, channel, detour->up, detour->context);

    if (!leaves_some(none)) {
        way->since_ms = way->look_ms = 0;
        return;
    }
    if (way->since_ms == 0 || now_ms < way->since_ms) { /* the clock may have been set back */
        way->since_ms = now_ms;
        way->look_ms = now_ms + AFTER_MS;
    }
    if (way->under_way) return;
    if (now_ms < way->look_ms ||
        !has_up(detour, clinic, channel == CHANNEL_SMS ? CHANNEL_EMAIL : CHANNEL_SMS)) {
        *again_ms = MIN(*again_ms, MAX(way->look_ms, now_ms + AGAIN_MS));
        return;
    }
    way->look_ms = now_ms + AGAIN_MS;
    *again_ms = MIN(*again_ms, way->look_ms);
    way->under_way = true;
    Errand *errand = g_new0(Errand, 1);
    *errand = (Errand){
        .detour = detour, .from = channel, .none = g_steal_pointer(&none), .after = g_strdup("")};
    desk_submit(detour->desk, divert_job, diverted, errand);
}
