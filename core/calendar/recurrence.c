/* SPDX-License-Identifier: Apache-2.0 */
#include "core/calendar/recurrence.h"

#include "core/calendar/expansion.h"

struct Recurrence {
    Rule rule;
    LocalTime start;
    GTimeZone *zone;
    Expansion *expansion;
    int given;      /* occurrences so far, those on missing dates included */
    bool started;   /* the start has had its turn */
    LocalTime last; /* of those so far */
};

Recurrence *recurrence_new(const char *rule, LocalTime start, GTimeZone *zone, char **why)
{
    g_autoptr(Recurrence) recurrence = g_new0(Recurrence, 1);

    if (!rule_parse(rule, &recurrence->rule, why)) return NULL;
    recurrence->start = start;
    recurrence->zone = g_time_zone_ref(zone);
    recurrence->expansion = expansion_new(&recurrence->rule, start);
    if (recurrence->expansion == NULL) {
        *why = g_strdup("the rule matches no date");
        return NULL;
    }
    return g_steal_pointer(&recurrence);
}

void recurrence_free(Recurrence *recurrence)
{
    if (recurrence == NULL) return;
    expansion_free(recurrence->expansion);
    g_clear_pointer(&recurrence->zone, g_time_zone_unref);
    g_free(recurrence);
}

bool recurrence_limited(const Recurrence *recurrence)
{
    return recurrence->rule.count > 0 || recurrence->rule.until_kind != UNTIL_NONE;
}

static bool is_after(LocalTime a, LocalTime b)
{
    return a.day > b.day || (a.day == b.day && a.second > b.second);
}

/* The start comes first whether or not the rule matches it; what the rule gives twice ("BYMINUTE=0,0") counts once. */
static bool next_local(Recurrence *recurrence, LocalTime *local)
{
    if (!recurrence->started) {
        recurrence->started = true;
        *local = recurrence->last = recurrence->start;
        return true;
    }
    do {
        if (!expansion_next(recurrence->expansion, local)) return false;
    } while (!is_after(*local, recurrence->last));
    recurrence->last = *local;
    return true;
}

bool recurrence_next(Recurrence *recurrence, LocalTime *local, int64_t *ms, LocalKind *kind)
{
    const Rule *rule = &recurrence->rule;

    while (rule->count == 0 || recurrence->given < rule->count) {
        if (!next_local(recurrence, local) || rule_over_by(rule, local->day)) return false;
        recurrence->given++;
        *ms = zone_instant(recurrence->zone, *local, kind);
        if (*kind != LOCAL_MISSING && !rule_over(rule, *local, *ms)) return true;
    }
    return false;
}
