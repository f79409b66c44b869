/* SPDX-License-Identifier: Apache-2.0 */
/* The way through a programme: every stage that is named exists, none goes round in a circle, none
 * is left over. */
#include "core/practice/programme_parts.h"

static void check_named(Reader *reader, const Programme *programme, guint index, const char *field,
                        const char *key)
{
    const char *const *known;
    g_autoptr(GPtrArray) keys = g_ptr_array_new();

    if (key == NULL || programme_stage(programme, key) != NULL) return;
    for (guint i = 0; i < programme->stages->len; i++) {
        const Stage *stage = g_ptr_array_index(programme->stages, i);
        if (stage->key != NULL) g_ptr_array_add(keys, (gpointer)stage->key);
    }
    g_ptr_array_add(keys, NULL);
    known = (const char *const *)keys->pdata;
    const char *near = fault_nearest(key, known);
    g_autofree char *at = g_strdup_printf("/stages/%u/%s", index, field);
    fault_add(reader->faults, at, key, "is no stage of this programme%s%s",
              near != NULL ? "; nearest: " : "", near != NULL ? near : "");
}

/* Follows `next` (or `back`) for as many steps as there are stages. */
static bool ends(const Programme *programme, const Stage *stage, bool forward)
{
    for (guint steps = 0; steps <= programme->stages->len; steps++) {
        if (stage == NULL) return true;
        stage = forward ? stage_next(programme, stage) : stage_back(programme, stage);
    }
    return false;
}

static bool named(const Programme *programme, const char *key)
{
    const Start *start = &programme->start;

    for (guint i = 0; i < programme->stages->len; i++) {
        const Stage *stage = g_ptr_array_index(programme->stages, i);
        if (g_strcmp0(stage->next_key, key) == 0) return true;
    }
    for (guint i = 0; i < start->rows->len; i++)
        if (g_strcmp0(((const StartRow *)g_ptr_array_index(start->rows, i))->stage, key) == 0)
            return true;
    return g_strcmp0(start->first, key) == 0 || g_strcmp0(start->calf, key) == 0;
}

void transitions_check(Reader *reader, json_t *tree, const Programme *programme)
{
    for (guint i = 0; i < programme->stages->len; i++) {
        const Stage *stage = g_ptr_array_index(programme->stages, i);
        g_autofree char *at = g_strdup_printf("/stages/%u", i);
        check_named(reader, programme, i, "next", stage->next_key);
        check_named(reader, programme, i, "back", stage->back_key);
        if (!ends(programme, stage, true)) {
            g_autofree char *next = fault_pointer(at, "next");
            fault_add(reader->faults, next, stage->next_key,
                      "goes round in a circle: from here no path comes to `next: end`");
        }
        if (!ends(programme, stage, false)) {
            g_autofree char *back = fault_pointer(at, "back");
            fault_add(reader->faults, back, stage->back_key,
                      "goes round in a circle: there is no easiest stage");
        }
        if (i > 0 && stage->key != NULL && json_object_get(tree, "start") != NULL &&
            !named(programme, stage->key))
            fault_add(reader->faults, at, stage->key,
                      "is reached from no other stage and from no start");
    }
}
