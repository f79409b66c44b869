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

bool stamp_receive(Stamp *clock, int64_t now_ms, Stamp incoming)
{
    bool honest = incoming.wall <= now_ms + STAMP_AHEAD_MS && incoming.logical <= LOGICAL_MAX;

    if (!honest) incoming = (Stamp){now_ms + STAMP_AHEAD_MS, 0};
    incoming.logical = MAX(incoming.logical, 0);
    merge(clock, now_ms, incoming);
    return honest;
}

int stamp_compare(Stamp a, Stamp b)
{
    if (a.wall != b.wall) return a.wall < b.wall ? -1 : 1;
    return (a.logical > b.logical) - (a.logical < b.logical);
}
