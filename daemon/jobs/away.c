/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/jobs/away.h"

#include "adapters/store/find_record.h"

static void note_piece(Job *job, int64_t from_ms, int64_t to_ms, int64_t least_ms, const char *why)
{
    if (to_ms - from_ms < MAX(least_ms, 1)) return;
    tx_append(job->tx, "sender.away", "clinic", "osier", NULL,
              json_pack("{s:I, s:I, s:s}", "from", (json_int_t)from_ms, "to", (json_int_t)to_ms,
                        "why", why));
}

void away_note(Job *job, int64_t from_ms, int64_t to_ms, int64_t least_ms, const char *why)
{
    g_autoptr(GPtrArray) known = find_away(job->tx, from_ms, to_ms);
    int64_t at_ms = from_ms;

    if (!job->sender) return;
    for (guint i = 0; i < known->len; i++) {
        note_piece(job, at_ms, row_int(known->pdata[i], AWAY_FROM), least_ms, why);
        at_ms = MAX(at_ms, row_int(known->pdata[i], AWAY_TO));
    }
    note_piece(job, at_ms, to_ms, least_ms, why);
}
