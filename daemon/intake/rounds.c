/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/intake/rounds.h"

#include "adapters/store/find_record.h"

#define SLOWEST_MS (10 * MINUTE_MS)
#define DEAF_WORTH_MS                                                                              \
    HOUR_MS /* a gateway that did not answer for so long is time in which osier was not listening */

static int64_t now_of(const Rounds *rounds)
{
    return clock_now(desk_clock(rounds->desk));
}

void rounds_init(Rounds *rounds, Desk *desk, const char *gateway, TimerFire *round, void *context)
{
    *rounds = (Rounds){.desk = desk,
                       .name = g_strdup(gateway),
                       .timer = timer_new(desk_clock(desk), round, context)};
}

void rounds_clear(Rounds *rounds)
{
    timer_free(rounds->timer);
    g_free(rounds->name);
}

void rounds_start(Rounds *rounds)
{
    if (!rounds->running) rounds->since_ms = now_of(rounds);
    rounds->running = true;
    if (!rounds->busy) timer_set(rounds->timer, now_of(rounds));
}

void rounds_stop(Rounds *rounds)
{
    rounds->running = false;
    timer_set(rounds->timer, CLOCK_NEVER);
}

typedef struct {
    char *gateway;
    int64_t from_ms;
} Deaf;

static bool deaf_job(Job *job, void *context)
{
    const Deaf *deaf = context;
    g_autofree char *why = g_strdup_printf("gateway %s did not answer", deaf->gateway);
    g_autoptr(GPtrArray) known = find_away(job->tx, deaf->from_ms, job->now_ms);

    if (known->len > 0) return true; /* the clinic knows: the line was down, or osier away */
    tx_append(job->tx, "sender.away", "clinic", "osier", NULL,
              json_pack("{s:I, s:I, s:s}", "from", (json_int_t)deaf->from_ms, "to",
                        (json_int_t)job->now_ms, "why", why));
    return true;
}

static void deaf_done(StoreStatus status, void *context)
{
    Deaf *deaf = context;

    (void)status;
    g_free(deaf->gateway);
    g_free(deaf);
}

/* The gateway answers again after so long that the clinic should know. */
static void note_deaf(const Rounds *rounds)
{
    if (rounds->silent || rounds->failures == 0 ||
        now_of(rounds) - rounds->since_ms < DEAF_WORTH_MS)
        return;
    Deaf *deaf = g_new0(Deaf, 1);
    *deaf = (Deaf){.gateway = g_strdup(rounds->name), .from_ms = rounds->since_ms};
    desk_submit(rounds->desk, deaf_job, deaf_done, deaf);
}

void rounds_good(Rounds *rounds)
{
    note_deaf(rounds);
    rounds->failures = 0;
    rounds->last_ms = rounds->since_ms = now_of(rounds);
}

void rounds_failed(Rounds *rounds)
{
    rounds->failures++;
    rounds->full = false;
}

void rounds_end(Rounds *rounds, int64_t every_ms)
{
    int64_t wait_ms = every_ms;

    rounds->busy = false;
    if (!rounds->running || every_ms <= 0) return;
    for (int i = 1; i < rounds->failures && wait_ms < SLOWEST_MS; i++)
        wait_ms *= 2;
    if (rounds->failures > 1) wait_ms = MAX(every_ms, MIN(wait_ms, SLOWEST_MS));
    timer_set(rounds->timer, rounds->full ? now_of(rounds) : now_of(rounds) + wait_ms);
    rounds->full = false;
}

json_t *rounds_json(const Rounds *rounds)
{
    g_autofree char *last = rounds->last_ms > 0 ? instant_format(rounds->last_ms) : NULL;

    return json_pack("{s:s, s:s?, s:i}", "name", rounds->name, "last", last, "failures",
                     rounds->failures);
}
