/* SPDX-License-Identifier: Apache-2.0 */
/* What says how others are to be seen: erasures with all that they name, bounds on stamps that no honest clock gives, and which
 * ids are one client's. */
#include "core/ledger/fold_part.h"

/* Of several clients that claim one subject one is told, the same everywhere. */
static void put_subject(const Fold *fold, const char *subject)
{
    static const int CLIENT[] = {ERASED_CLIENT, -1};
    g_autoptr(Row) row = fold_row(fold, TABLE_ERASED, subject);
    g_autoptr(Row) told = row_copy(row);

    row_set_text(told, ERASED_CLIENT, fold->event->subject);
    fold_join(row, told, CLIENT, UNIT_LEAST);
    fold_put(fold, row);
}

static void put_subjects(const Fold *fold, const char *list, const char *prefix)
{
    json_t *named = (json_t *)fold_value(fold, list);
    size_t i;
    json_t *item;

    json_array_foreach(named, i, item)
    {
        const char *text = fold_string(item);

        if (text == NULL || *text == '\0') continue;
        g_autofree char *subject = g_strconcat(prefix, text, NULL);
        put_subject(fold, subject);
    }
}

void fold_erased(const Fold *fold)
{
    bool erase = strcmp(fold->event->kind, "client.erase") == 0;

    if (!erase && strcmp(fold->event->kind, "redacted") != 0) return;
    if (erase) put_subject(fold, fold->event->subject);
    put_subjects(fold, "also", "");
    if (erase) put_subjects(fold, "numbers", "number ");
}

void fold_bounded(const Fold *fold)
{
    const json_t *first = fold_value(fold, "first"), *last = fold_value(fold, "last");
    const json_t *wall = fold_value(fold, "wall");

    if (strcmp(fold->event->kind, "clock.bounded") != 0 || !json_is_integer(first) ||
        !json_is_integer(last) || !json_is_integer(wall))
        return;
    g_autoptr(Row) row = fold_own_row(fold, TABLE_BOUNDED);
    row_set_text(row, BOUNDED_REPLICA, fold->event->subject);
    row_set_int(row, BOUNDED_FIRST, json_integer_value(first));
    row_set_int(row, BOUNDED_LAST, json_integer_value(last));
    row_set_int(row, BOUNDED_WALL, json_integer_value(wall));
    fold_put(fold, row);
}

void fold_same(const Fold *fold)
{
    const char *of = fold_text(fold, "of");

    if (strcmp(fold->event->kind, "client.same_as") != 0 || of == NULL || *of == '\0') return;
    g_autoptr(Row) row = fold_own_row(fold, TABLE_SAME);
    row_set_text(row, SAME_CLIENT, fold->event->subject);
    row_set_text(row, SAME_OF, of);
    fold_set(fold, row, SAME_BY, "by");
    row_set_int(row, SAME_AT, fold_at(fold));
    fold_put(fold, row);
}
