/* SPDX-License-Identifier: Apache-2.0 */
/* Facts that one event alone states: screens, measures, programme texts. They accumulate. */
#include "core/ledger/fold_part.h"

static void put_screen(const Fold *fold)
{
    g_autoptr(Row) row = fold_own_row(fold, TABLE_SCREEN);

    row_set_text(row, SCREEN_CLIENT, fold->event->subject);
    row_set_int(row, SCREEN_AT, fold_at(fold));
    fold_set(fold, row, SCREEN_BY, "by");
    fold_set(fold, row, SCREEN_FLOOR, "floor");
    fold_set(fold, row, SCREEN_CLEAR, "clear");
    fold_set(fold, row, SCREEN_FINDINGS, "findings");
    fold_put(fold, row);
}

static void put_measure(const Fold *fold)
{
    static const struct {
        int column;
        const char *name;
    } FIELDS[] = {
        {MEASURE_MOVEMENT, "movement"},
        {MEASURE_SIDE, "side"},
        {MEASURE_METHOD, "method"},
        {MEASURE_VALUE, "value"},
        {MEASURE_UNIT, "unit"},
        {MEASURE_LANDMARK, "landmark"},
        {MEASURE_BY, "by"},
    };
    g_autoptr(Row) row = fold_own_row(fold, TABLE_MEASURE);

    row_set_text(row, MEASURE_CLIENT, fold->event->subject);
    row_set_int(row, MEASURE_AT, fold_at(fold));
    for (size_t i = 0; i < G_N_ELEMENTS(FIELDS); i++)
        fold_set(fold, row, FIELDS[i].column, FIELDS[i].name);
    g_autofree char *body = fold_dump(fold->body);
    row_set_text(row, MEASURE_BODY, body);
    fold_put(fold, row);
}

static void put_programme(const Fold *fold)
{
    static const int WHOLE[] = {PROGRAMME_KEY, PROGRAMME_TEXT, -1};
    g_autoptr(Row) row = fold_row(fold, TABLE_PROGRAMME, fold->event->subject);
    g_autoptr(Row) given = row_copy(row);

    fold_set(fold, given, PROGRAMME_KEY, "key");
    fold_set(fold, given, PROGRAMME_TEXT, "text");
    fold_join(row, given, WHOLE, UNIT_LEAST);
    fold_put(fold, row);
}

bool fold_practice(const Fold *fold)
{
    const char *kind = fold->event->kind;
    bool redacted = fold->body == NULL;

    if (strcmp(kind, "screen.done") == 0) {
        if (!redacted) put_screen(fold);
    } else if (strcmp(kind, "measure.taken") == 0) {
        if (!redacted) put_measure(fold);
    } else if (strcmp(kind, "programme.put") == 0) {
        if (fold_text(fold, "text") != NULL) put_programme(fold);
    } else {
        return false;
    }
    return true;
}
