/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/relay/claiming.h"

#include "adapters/store/find_route.h"
#include "daemon/jobs/settle.h"

typedef struct {
    Claiming *claiming;
    Line *line;
    Channel channels[2];
    Route *routes[2]; /* of the channels; NULL: all that waits */
    int n_channels;
    int limit;
    GPtrArray *claims;
    int64_t next_ms; /* when more of the routes comes due */
} Errand;

/* The channels that a gateway serves. */
static void channels_of(const Claiming *claiming, const Line *line, Errand *errand)
{
    const Clinic *clinic = settings_clinic(desk_settings(claiming->desk));
    const Gateway *gateway = clinic_gateway(clinic, line_name(line));

    for (Channel channel = CHANNEL_SMS; channel <= CHANNEL_EMAIL; channel++)
        if (gateway != NULL && route_serves(clinic, gateway, channel))
            errand->channels[errand->n_channels++] = channel;
}

/* What of them is its own to take, as the gateways are now. */
static void find_routes(const Claiming *claiming, Errand *errand)
{
    const Clinic *clinic = settings_clinic(desk_settings(claiming->desk));
    const Gateway *gateway = clinic_gateway(clinic, line_name(errand->line));

    for (int i = 0; i < errand->n_channels; i++)
        errand->routes[i] =
            route_new(clinic, gateway, errand->channels[i], claiming->up, claiming->context);
}

/* A gateway beside others may have nothing to take though something waits: then it rests until more of its own comes due. */
static void look_ahead(Job *job, Errand *errand)
{
    errand->next_ms = 0;
    if (errand->claims->len > 0 || errand->routes[0] == NULL) return;
    errand->next_ms = CLOCK_NEVER;
    for (int i = 0; i < errand->n_channels; i++)
        errand->next_ms =
            MIN(errand->next_ms,
                find_next_routed(job->tx, channel_name(errand->channels[i]), errand->routes[i]));
}

static bool claim_job(Job *job, void *context)
{
    Errand *errand = context;
    const Gateway *gateway = clinic_gateway(job->clinic, line_name(errand->line));

    for (int i = 0; job->sender && gateway != NULL && i < errand->n_channels; i++) {
        int left = errand->limit - (int)errand->claims->len;
        if (left > 0)
            settle_claim(job, errand->channels[i], gateway, errand->routes[i], left,
                         errand->claims);
    }
    look_ahead(job, errand);
    return true;
}

static void claim_done(StoreStatus status, void *context)
{
    Errand *errand = context;

    line_claiming(errand->line, false);
    line_promise(errand->line, -errand->limit);
    /* With the job undone the claims are none: the rows still wait. */
    if (status == STORE_OK) {
        line_rest_until(errand->line, errand->next_ms);
        line_take(errand->line, errand->claims);
    }
    g_ptr_array_unref(errand->claims);
    for (int i = 0; i < errand->n_channels; i++)
        route_free(errand->routes[i]);
    errand->claiming->done(errand->claiming->context);
    g_free(errand);
}

/* Has a message of one of the channels come due? Else *again_ms is lowered to when one will. */
static bool has_work(const Claiming *claiming, const Errand *errand, int64_t now_ms,
                     int64_t *again_ms)
{
    int64_t rests_until = line_rests_until(errand->line);
    bool ready = false;

    if (rests_until > now_ms) {
        *again_ms = MIN(*again_ms, rests_until);
        return false;
    }
    for (int i = 0; i < errand->n_channels; i++) {
        int64_t next = claiming->next_send_ms[errand->channels[i]];
        ready = ready || next <= now_ms;
        if (next > now_ms) *again_ms = MIN(*again_ms, next);
    }
    return ready;
}

void claiming_try(Claiming *claiming, Line *line, int64_t now_ms, int64_t *again_ms)
{
    Errand wish = {.claiming = claiming, .line = line};

    if (line_has_left(line)) return;
    channels_of(claiming, line, &wish);
    if (!has_work(claiming, &wish, now_ms, again_ms)) return;
    wish.limit = line_room(line, now_ms, again_ms);
    if (wish.limit <= 0) return;
    Errand *errand = g_new0(Errand, 1);
    *errand = wish;
    find_routes(claiming, errand);
    errand->claims = g_ptr_array_new_with_free_func((GDestroyNotify)claim_free);
    line_claiming(line, true);
    line_promise(line, errand->limit);
    desk_submit(claiming->desk, claim_job, claim_done, errand);
}
