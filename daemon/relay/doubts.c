/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/relay/doubts.h"

typedef struct {
    Claim *claim;
    Settlement settlement;
    int64_t until_ms;
} Doubt;

struct Doubts {
    Recorder *recorder;
    GQueue held; /* of Doubt, the oldest first */
};

Doubts *doubts_new(Recorder *recorder)
{
    Doubts *doubts = g_new0(Doubts, 1);

    doubts->recorder = recorder;
    g_queue_init(&doubts->held);
    return doubts;
}

void doubts_free(Doubts *doubts)
{
    Doubt *doubt;

    while ((doubt = g_queue_pop_head(&doubts->held)) != NULL) {
        claim_free(doubt->claim);
        settlement_clear(&doubt->settlement);
        g_free(doubt);
    }
    g_free(doubts);
}

void doubts_hold(Doubts *doubts, Claim *claim, Settlement settlement, int64_t now_ms)
{
    Doubt *doubt = g_new0(Doubt, 1);

    *doubt =
        (Doubt){.claim = claim, .settlement = settlement, .until_ms = now_ms + OUTCOME_HOLD_MS};
    g_queue_push_tail(&doubts->held, doubt);
    recorder_add(doubts->recorder, claim_mark(claim),
                 (Settlement){.fate = settlement.fate,
                              .reason = g_strdup(settlement.reason),
                              .retry_after_s = -1},
                 OUTCOME_HELD);
}

static void end_oldest(Doubts *doubts, OutcomeManner manner)
{
    Doubt *doubt = g_queue_pop_head(&doubts->held);

    recorder_add(doubts->recorder, doubt->claim, doubt->settlement, manner);
    g_free(doubt);
}

void doubts_end(Doubts *doubts, bool sick)
{
    while (!g_queue_is_empty(&doubts->held))
        end_oldest(doubts, sick ? OUTCOME_SICK : OUTCOME_PLAIN);
}

bool doubts_end_old(Doubts *doubts, int64_t now_ms, int64_t *next_ms)
{
    bool some = false;
    const Doubt *oldest;

    while ((oldest = g_queue_peek_head(&doubts->held)) != NULL && oldest->until_ms <= now_ms) {
        end_oldest(doubts, OUTCOME_PLAIN);
        some = true;
    }
    if (oldest != NULL) *next_ms = MIN(*next_ms, oldest->until_ms);
    return some;
}
