/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/intake/unheard.h"

#include "daemon/jobs/away.h"

/* A shorter time between two that are known is none. */
#define LEAST_MS MINUTE_MS

typedef struct {
    Unheard *unheard;
    char *why;
    int64_t since_ms, from_ms, to_ms;
} Errand;

void unheard_init(Unheard *unheard, Desk *desk, char *why)
{
    *unheard = (Unheard){.desk = desk, .why = why};
}

void unheard_clear(Unheard *unheard)
{
    g_clear_pointer(&unheard->why, g_free);
}

void unheard_begin(Unheard *unheard, int64_t since_ms)
{
    unheard->since_ms = unheard->noted_ms = since_ms;
}

static bool note_job(Job *job, void *context)
{
    const Errand *errand = context;

    away_note(job, errand->from_ms, errand->to_ms, LEAST_MS, errand->why);
    return true;
}

static void noted(StoreStatus status, void *context)
{
    Errand *errand = context;
    Unheard *unheard = errand->unheard;

    if (status == STORE_OK && unheard->since_ms == errand->since_ms)
        unheard->noted_ms = MAX(unheard->noted_ms, errand->to_ms);
    g_free(errand->why);
    g_free(errand);
}

void unheard_note(Unheard *unheard)
{
    Errand *errand = g_new0(Errand, 1);

    *errand = (Errand){.unheard = unheard,
                       .why = g_strdup(unheard->why),
                       .since_ms = unheard->since_ms,
                       .from_ms = unheard->noted_ms,
                       .to_ms = clock_now(desk_clock(unheard->desk))};
    desk_submit(unheard->desk, note_job, noted, errand);
}
