/* SPDX-License-Identifier: Apache-2.0 */
#include "core/ledger/fold_part.h"

#include "core/ledger/body.h"
#include "core/ledger/stamp.h"

bool fold_is_later(const Fold *fold, const Row *row, StampColumns at)
{
    const Event *event = fold->event;

    if (row_is_null(row, at.wall)) return true;
    int order = stamp_compare((Stamp){event->wall, event->logical},
                              (Stamp){row_int(row, at.wall), row_int(row, at.logical)});
    if (order == 0) order = strcmp(event->replica, row_text(row, at.replica));
    if (order == 0)
        order = (event->seq > row_int(row, at.seq)) - (event->seq < row_int(row, at.seq));
    return order > 0;
}

void fold_set_stamp(const Fold *fold, Row *row, StampColumns at)
{
    row_set_int(row, at.wall, fold->event->wall);
    row_set_int(row, at.logical, fold->event->logical);
    row_set_text(row, at.replica, fold->event->replica);
    row_set_int(row, at.seq, fold->event->seq);
}

Row *fold_row(const Fold *fold, TableId table, const char *key)
{
    Row *fresh = row_new(table);

    row_set_text(fresh, 0, key);
    Row *found = fold->tables->get(fold->tables->context, fresh);
    if (found == NULL) return fresh;
    row_free(fresh);
    return found;
}

Row *fold_own_row(const Fold *fold, TableId table)
{
    Row *row = row_new(table);

    row_set_text(row, 0, fold->id);
    return row;
}

void fold_put(const Fold *fold, const Row *row)
{
    fold->tables->put(fold->tables->context, row);
}

const json_t *fold_value(const Fold *fold, const char *name)
{
    return fold->body != NULL ? json_object_get(fold->body, name) : NULL;
}

const char *fold_string(const json_t *value)
{
    const char *text = json_string_value(value);

    return text != NULL && strlen(text) == json_string_length(value) ? text : NULL;
}

const char *fold_text(const Fold *fold, const char *name)
{
    return fold_string(fold_value(fold, name));
}

char *fold_dump(const json_t *value)
{
    return body_text(value);
}

static void set_text(Row *row, int column, const json_t *value)
{
    if (json_is_string(value)) {
        row_set_text(row, column, fold_string(value));
    } else if (json_is_number(value) || json_is_object(value) || json_is_array(value)) {
        g_autofree char *text = fold_dump(value);
        row_set_text(row, column, text);
    } else {
        row_set_null(row, column);
    }
}

void fold_set(const Fold *fold, Row *row, int column, const char *name)
{
    const json_t *value = fold_value(fold, name);

    switch (table_of(row_table(row))->column[column].type) {
    case COLUMN_TEXT: set_text(row, column, value); return;
    case COLUMN_INTEGER:
        if (json_is_integer(value))
            row_set_int(row, column, json_integer_value(value));
        else if (json_is_boolean(value))
            row_set_int(row, column, json_is_true(value));
        else
            row_set_null(row, column);
        return;
    case COLUMN_REAL:
        if (json_is_number(value))
            row_set_real(row, column, json_number_value(value));
        else
            row_set_null(row, column);
        return;
    }
}

const char *fold_one(const Fold *fold, const char *client)
{
    return fold->tables->one != NULL ? fold->tables->one(fold->tables->context, client) : client;
}

void fold_set_client(const Fold *fold, Row *row, int column, const char *name)
{
    fold_set(fold, row, column, name);
    if (!row_is_null(row, column)) {
        g_autofree char *client = g_strdup(row_text(row, column));
        row_set_text(row, column, fold_one(fold, client));
    }
}

int64_t fold_at(const Fold *fold)
{
    const json_t *at = fold_value(fold, "at");

    return json_is_integer(at) ? json_integer_value(at) : fold->event->wall;
}

void fold_join(Row *row, const Row *other, const int *columns, UnitChoice choice)
{
    int order = row_compare_value(row, other, columns[0]);

    if (choice == UNIT_LEAST && !row_is_null(row, columns[0]) && !row_is_null(other, columns[0]))
        order = -order;
    for (int i = 1; columns[i] >= 0 && order == 0; i++)
        order = row_compare_value(row, other, columns[i]);
    for (int i = 0; columns[i] >= 0 && order < 0; i++)
        row_copy_value(row, columns[i], other, columns[i]);
}
