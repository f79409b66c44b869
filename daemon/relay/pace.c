/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/relay/pace.h"

#define SPAN_MS 100

int pace_per_span(Pace *pace, int64_t now_ms)
{
    int64_t since_ms = now_ms - pace->began_ms;

    if (since_ms >= 0 && since_ms < SPAN_MS) return pace->before;
    *pace = (Pace){.began_ms = now_ms,
                   .before = since_ms >= SPAN_MS && since_ms < 2 * SPAN_MS ? pace->sent : 0};
    return pace->before;
}

void pace_note(Pace *pace, int64_t now_ms)
{
    pace_per_span(pace, now_ms);
    pace->sent++;
}
