/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/page/meter.h"

#include <glib.h>

enum { NAMES_MOST = 10000 };

struct Meter {
    GHashTable *names; /* name -> Use */
};

/* What was taken and is not given back yet, in milliseconds: each costs each_ms. */
typedef struct {
    int64_t owed_ms;
    int64_t at_ms;
} Use;

Meter *meter_new(void)
{
    Meter *meter = g_new0(Meter, 1);

    meter->names = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, g_free);
    return meter;
}

void meter_free(Meter *meter)
{
    g_hash_table_unref(meter->names);
    g_free(meter);
}

static gboolean is_paid(gpointer name, gpointer use, gpointer now_ms)
{
    const Use *at = use;

    (void)name;
    return *(int64_t *)now_ms - at->at_ms >= at->owed_ms;
}

static Use *use_of(Meter *meter, const char *name, int64_t now_ms)
{
    Use *use = g_hash_table_lookup(meter->names, name);

    if (use != NULL) return use;
    if (g_hash_table_size(meter->names) >= NAMES_MOST)
        g_hash_table_foreach_remove(meter->names, is_paid, &now_ms);
    if (g_hash_table_size(meter->names) >= NAMES_MOST) g_hash_table_remove_all(meter->names);
    use = g_new0(Use, 1);
    use->at_ms = now_ms;
    g_hash_table_insert(meter->names, g_strdup(name), use);
    return use;
}

bool meter_take(Meter *meter, const char *name, const MeterRate *rate, int64_t now_ms)
{
    Use *use = use_of(meter, name, now_ms);

    use->owed_ms = MAX(0, use->owed_ms - (now_ms - use->at_ms));
    use->at_ms = now_ms;
    if (use->owed_ms > (rate->burst - 1) * rate->each_ms) return false;
    use->owed_ms += rate->each_ms;
    return true;
}
