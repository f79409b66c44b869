/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/intake/rounds.h"

#include "daemon/jobs/gateway_matter.h"

#define SLOWEST_MS (10 * MINUTE_MS)
#define DEAF_WORTH_MS HOUR_MS /* a gateway that did not answer for so long is worth a call */
#define DEAF_FAILURES 2       /* and it was asked more than once */

static int64_t now_of(const Rounds *rounds)
{
    return clock_now(desk_clock(rounds->desk));
}

void rounds_init(Rounds *rounds, Desk *desk, const IntakeWatch *watch, const char *gateway,
                 TimerFire *round, void *context)
{
    *rounds = (Rounds){.watch = watch,
                       .desk = desk,
                       .name = g_strdup(gateway),
                       .timer = timer_new(desk_clock(desk), round, context)};
    unheard_init(&rounds->unheard, desk, g_strdup_printf("gateway %s did not answer", gateway));
}

void rounds_clear(Rounds *rounds)
{
    timer_free(rounds->timer);
    unheard_clear(&rounds->unheard);
    g_free(rounds->name);
}

/* --- what is not heard --- */

static bool is_cut_off(const Rounds *rounds)
{
    return rounds->watch->cut_off != NULL && rounds->watch->cut_off(rounds->watch->context);
}

static bool is_blamed(const Rounds *rounds)
{
    return rounds->watch->blamed != NULL &&
           rounds->watch->blamed(rounds->name, rounds->watch->context);
}

/* Has it been deaf for so long that it is written down? */
static bool is_deaf(const Rounds *rounds)
{
    return !rounds->silent && rounds->failures > 0 &&
           now_of(rounds) - rounds->unheard.since_ms >= DEAF_WORTH_MS;
}

/* When a clinician is to hear of it. What was missed while the line was down is not the gateway's fault. */
static int64_t tell_at(const Rounds *rounds)
{
    return MAX(rounds->unheard.since_ms, rounds->back_ms) + DEAF_WORTH_MS;
}

typedef struct {
    Rounds *rounds;
    char *gateway;
    bool deaf;
} Errand;

static bool matter_job(Job *job, void *context)
{
    const Errand *errand = context;

    if (!job->sender) return true;
    if (errand->deaf)
        gateway_matter_open(job, errand->gateway, GATEWAY_DEAF);
    else
        gateway_matter_close(job, errand->gateway, GATEWAY_DEAF);
    return true;
}

static void matter_done(StoreStatus status, void *context)
{
    Errand *errand = context;

    /* No room: it is told, or closed, at the next try. */
    if (store_passes(status)) errand->rounds->told = !errand->deaf;
    g_free(errand->gateway);
    g_free(errand);
}

static void tell(Rounds *rounds, bool deaf)
{
    Errand *errand = g_new0(Errand, 1);

    *errand = (Errand){.rounds = rounds, .gateway = g_strdup(rounds->name), .deaf = deaf};
    rounds->told = deaf;
    desk_submit(rounds->desk, matter_job, matter_done, errand);
}

static void look_deaf(Rounds *rounds)
{
    int64_t now = now_of(rounds);

    if (!is_deaf(rounds) || is_cut_off(rounds) || rounds->failures < DEAF_FAILURES) return;
    bool first = rounds->unheard.noted_ms == rounds->unheard.since_ms;
    if (first || now - rounds->unheard.noted_ms >= UNHEARD_EVERY_MS) unheard_note(&rounds->unheard);
    if (rounds->told || now < tell_at(rounds) || is_blamed(rounds)) return;
    log_line(desk_log(rounds->desk), LOG_ERRORS, "gateway.deaf", "gateway", rounds->name, NULL);
    tell(rounds, true);
}

/* --- asking --- */

void rounds_start(Rounds *rounds)
{
    if (!rounds->running) {
        unheard_begin(&rounds->unheard, now_of(rounds));
        rounds->failures = 0;
        rounds->heard = rounds->told = false;
    }
    rounds->running = true;
    if (!rounds->busy) timer_set(rounds->timer, now_of(rounds));
}

void rounds_back(Rounds *rounds)
{
    rounds->back_ms = now_of(rounds);
    rounds_start(rounds);
}

void rounds_stop(Rounds *rounds)
{
    if (rounds->running && is_deaf(rounds) && !is_cut_off(rounds)) unheard_note(&rounds->unheard);
    rounds->running = false;
    timer_set(rounds->timer, CLOCK_NEVER);
}

void rounds_good(Rounds *rounds)
{
    if (is_deaf(rounds)) unheard_note(&rounds->unheard);
    if (rounds->told)
        log_line(desk_log(rounds->desk), LOG_WARNINGS, "gateway.heard", "gateway", rounds->name,
                 NULL);
    /* An alert may be open from before the last start. */
    if (rounds->told || (!rounds->heard && !rounds->silent)) tell(rounds, false);
    rounds->heard = true;
    rounds->failures = 0;
    rounds->last_ms = now_of(rounds);
    unheard_begin(&rounds->unheard, rounds->last_ms);
}

void rounds_failed(Rounds *rounds)
{
    rounds->failures++;
    rounds->full = false;
    look_deaf(rounds);
}

void rounds_end(Rounds *rounds, int64_t every_ms)
{
    int64_t wait_ms = every_ms;

    rounds->busy = false;
    if (!rounds->running || every_ms <= 0) return;
    for (int i = 1; i < rounds->failures && wait_ms < SLOWEST_MS; i++)
        wait_ms *= 2;
    if (rounds->failures > 1) wait_ms = MAX(every_ms, MIN(wait_ms, SLOWEST_MS));
    /* It is asked once more when it would be told. */
    int64_t told_ms = tell_at(rounds) - now_of(rounds);
    if (rounds->failures > 0 && !rounds->silent && told_ms > 0) wait_ms = MIN(wait_ms, told_ms);
    timer_set(rounds->timer, rounds->full ? now_of(rounds) : now_of(rounds) + wait_ms);
    rounds->full = false;
}

json_t *rounds_json(const Rounds *rounds)
{
    g_autofree char *last = rounds->last_ms > 0 ? instant_format(rounds->last_ms) : NULL;

    return json_pack("{s:s, s:s?, s:i}", "name", rounds->name, "last", last, "failures",
                     rounds->failures);
}
