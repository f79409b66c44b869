/* SPDX-License-Identifier: Apache-2.0 */
/* Bars: what keeps messages from a client. Setting and lifting may arrive in either order; order
 * plays no part. */
#include "core/ledger/fold_part.h"

static const char *bar_kind(const char *kind)
{
    static const struct {
        const char *kind, *bar;
    } BARS[] = {
        {"client.stop", "stop"}, {"client.pause", "pause"}, {"client.suspend", "suspend"},
        {"client.end", "end"},   {"hold.set", "hold"},      {"client.erase", "erase"},
    };

    for (size_t i = 0; i < G_N_ELEMENTS(BARS); i++)
        if (strcmp(BARS[i].kind, kind) == 0) return BARS[i].bar;
    return NULL;
}

static bool is_lift(const char *kind)
{
    return strcmp(kind, "client.start") == 0 || strcmp(kind, "client.resume") == 0 ||
           strcmp(kind, "hold.lift") == 0;
}

/* Nothing ends an erasure, also what came before it. */
static void settle(Row *bar)
{
    const char *kind = row_text(bar, BAR_KIND);

    if (kind == NULL || strcmp(kind, "erase") != 0) return;
    row_set_null(bar, BAR_LIFTED_AT);
    row_set_null(bar, BAR_LIFTED_BY);
    row_set_null(bar, BAR_LIFT);
}

/* A redacted bar still bars: its kind and client stand in the header. */
static void set_bar(const Fold *fold, const char *kind)
{
    g_autoptr(Row) bar = fold_row(fold, TABLE_BAR, fold->id);

    row_set_text(bar, BAR_CLIENT, fold->event->subject);
    row_set_text(bar, BAR_KIND, kind);
    row_set_int(bar, BAR_AT, fold_at(fold));
    fold_set(fold, bar, BAR_UNTIL, "until");
    fold_set(fold, bar, BAR_WHY, "why");
    fold_set(fold, bar, BAR_BY, "by");
    fold_set(fold, bar, BAR_CAUSE, "cause");
    settle(bar);
    fold_put(fold, bar);
}

/* Of several that lift one bar the earliest is told. */
static void lift_bar(const Fold *fold, const char *id)
{
    static const int LIFT[] = {BAR_LIFTED_AT, BAR_LIFT, BAR_LIFTED_BY, -1};
    g_autoptr(Row) bar = fold_row(fold, TABLE_BAR, id);
    g_autoptr(Row) lifted = row_copy(bar);

    row_set_int(lifted, BAR_LIFTED_AT, fold_at(fold));
    row_set_text(lifted, BAR_LIFT, fold->id);
    fold_set(fold, lifted, BAR_LIFTED_BY, "by");
    fold_join(bar, lifted, LIFT, UNIT_LEAST);
    settle(bar);
    fold_put(fold, bar);
}

bool fold_bar(const Fold *fold)
{
    const char *kind = bar_kind(fold->event->kind);

    if (kind != NULL) {
        set_bar(fold, kind);
        return true;
    }
    if (!is_lift(fold->event->kind)) return false;
    json_t *ends = (json_t *)fold_value(fold, "ends");
    size_t i;
    json_t *id;
    json_array_foreach(ends, i, id)
    {
        if (fold_string(id) != NULL) lift_bar(fold, fold_string(id));
    }
    return true;
}
