/* SPDX-License-Identifier: Apache-2.0 */
#include "core/ledger/stamp.h"

#include <glib.h>

/* No honest clock counts so many events within one millisecond; beyond it a sum could overflow. */
#define LOGICAL_MAX (INT64_C(1) << 40)

Stamp stamp_next(Stamp *clock, int64_t now_ms)
{
    if (now_ms > clock->wall)
        *clock = (Stamp){now_ms, 0};
    else
        clock->logical++;
    return *clock;
}

/* Figure 5's rule for a message, after the bound. */
static void merge(Stamp *clock, int64_t now_ms, Stamp incoming)
{
    int64_t before = clock->wall;

    clock->wall = MAX(MAX(before, incoming.wall), now_ms);
    if (clock->wall == before && clock->wall == incoming.wall)
        clock->logical = MAX(clock->logical, incoming.logical) + 1;
    else if (clock->wall == before)
        clock->logical++;
    else if (clock->wall == incoming.wall)
        clock->logical = incoming.logical + 1;
    else
        clock->logical = 0;
}

static bool bound(Stamp *stamp, int64_t now_ms)
{
    bool honest = stamp->wall <= now_ms + STAMP_AHEAD_MS && stamp->logical <= LOGICAL_MAX;

    if (!honest) *stamp = (Stamp){now_ms + STAMP_AHEAD_MS, 0};
    stamp->logical = MAX(stamp->logical, 0);
    return honest;
}

bool stamp_receive(Stamp *clock, int64_t now_ms, Stamp incoming)
{
    bool honest = bound(&incoming, now_ms);

    merge(clock, now_ms, incoming);
    return honest;
}

void stamp_recall(Stamp *clock, int64_t now_ms, Stamp known)
{
    bound(&known, now_ms);
    if (stamp_compare(known, *clock) > 0) *clock = known;
}

int stamp_compare(Stamp a, Stamp b)
{
    if (a.wall != b.wall) return a.wall < b.wall ? -1 : 1;
    return (a.logical > b.logical) - (a.logical < b.logical);
}
