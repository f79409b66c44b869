/* SPDX-License-Identifier: Apache-2.0 */
/* Any bytes as a recurrence rule in a zone of any name. The first line is the zone, the second the start. */
#include "adapters/files/zones.h"
#include "core/calendar/recurrence.h"
#include "tests/fuzz/mapped.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

#define OCCURRENCES 200

static void expand(const char *text, LocalTime start, GTimeZone *zone)
{
    g_autofree char *why = NULL;
    g_autoptr(Recurrence) rule = recurrence_new(text, start, zone, &why);
    LocalTime local, before = {0};
    int64_t ms;
    LocalKind kind;

    g_assert((rule == NULL) == (why != NULL));
    for (int i = 0; rule != NULL && i < OCCURRENCES; i++) {
        if (!recurrence_next(rule, &local, &ms, &kind)) break;
        /* Time goes on, and an instant is where the zone has it. */
        g_assert(i == 0 || local.day > before.day ||
                 (local.day == before.day && local.second > before.second));
        g_assert(kind == LOCAL_MISSING || zone_instant(zone, local, NULL) == ms);
        before = local;
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    g_autofree char *name = mapped_line(&data, &size);
    g_autofree char *at = name != NULL ? mapped_line(&data, &size) : NULL;
    LocalTime start = {.day = 20514};

    if (at == NULL) return 0;
    GTimeZone *zone = zone_load(name);
    int64_t ms;
    int32_t second;
    Day day;
    instant_parse(at, &ms);
    duration_parse(at, &ms);
    clock_time_parse(at, &second);
    day_parse(at, &day);
    local_parse(at, &start);
    if (zone == NULL) zone = g_time_zone_new_utc();
    g_autofree char *text = g_strndup((const char *)data, size);
    expand(text, start, zone);
    g_time_zone_unref(zone);
    return 0;
}
