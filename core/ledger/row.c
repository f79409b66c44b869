/* SPDX-License-Identifier: Apache-2.0 */
#include "core/ledger/row.h"

#include <string.h>

/* Texts of a row lie behind its values as long as there is room, so that most rows are one piece of memory. */
#define ROOM_BYTES 320

typedef struct {
    bool set;
    union {
        char *text;
        int64_t integer;
        double real;
    };
} Value;

struct Row {
    const Table *table;
    TableId id;
    uint32_t room;    /* of ROOM_BYTES, still free */
    bool outside;     /* a text may lie elsewhere */
    bool stored;      /* read from a table ... */
    uint64_t changed; /* ... and since then set otherwise in these columns */
    Value value[];
};

Row *row_new(TableId table)
{
    const Table *of = table_of(table);
    size_t size = sizeof(Row) + (size_t)of->columns * sizeof(Value);
    Row *row = g_malloc(size + ROOM_BYTES);

    memset(row, 0, size);
    row->table = of;
    row->id = table;
    row->room = ROOM_BYTES;
    return row;
}

static char *room_end(const Row *row)
{
    return (char *)&row->value[row->table->columns] + ROOM_BYTES;
}

/* A copy of the text that lives as long as the row. */
static char *keep_text(Row *row, const char *text)
{
    size_t size = strlen(text) + 1;

    if (size > row->room) {
        row->outside = true;
        return g_memdup2(text, size);
    }
    char *kept = room_end(row) - row->room;
    memcpy(kept, text, size);
    row->room -= (uint32_t)size;
    return kept;
}

static bool is_inside(const Row *row, const char *text)
{
    return text >= (const char *)row && text < room_end(row);
}

static void drop_text(const Row *row, char *text)
{
    if (!is_inside(row, text)) g_free(text);
}

/* Whole, with the texts in its room; those outside it are copied. */
Row *row_copy(const Row *row)
{
    size_t size = (size_t)(room_end(row) - (const char *)row);
    Row *copy = g_malloc(size);

    memcpy(copy, row, size - row->room);
    for (int i = 0; i < row->table->columns; i++) {
        char *text = row->value[i].text;
        if (!row->value[i].set || row->table->column[i].type != COLUMN_TEXT) continue;
        copy->value[i].text =
            is_inside(row, text) ? (char *)copy + (text - (const char *)row) : g_strdup(text);
    }
    return copy;
}

size_t row_bytes(const Row *row)
{
    size_t bytes = (size_t)(room_end(row) - (const char *)row);

    for (int i = 0; i < row->table->columns; i++)
        if (row->value[i].set && row->table->column[i].type == COLUMN_TEXT &&
            !is_inside(row, row->value[i].text))
            bytes += strlen(row->value[i].text) + 1;
    return bytes;
}

void row_free(Row *row)
{
    if (row == NULL) return;
    for (int i = 0; row->outside && i < row->table->columns; i++)
        if (row->value[i].set && row->table->column[i].type == COLUMN_TEXT)
            drop_text(row, row->value[i].text);
    g_free(row);
}

TableId row_table(const Row *row)
{
    return row->id;
}

static const Value *at(const Row *row, int column, ColumnType type)
{
    g_assert(column >= 0 && column < row->table->columns);
    g_assert(row->table->column[column].type == type);
    return &row->value[column];
}

bool row_is_null(const Row *row, int column)
{
    g_assert(column >= 0 && column < row->table->columns);
    return !row->value[column].set;
}

const char *row_text(const Row *row, int column)
{
    const Value *value = at(row, column, COLUMN_TEXT);

    return value->set ? value->text : NULL;
}

int64_t row_int(const Row *row, int column)
{
    const Value *value = at(row, column, COLUMN_INTEGER);

    return value->set ? value->integer : 0;
}

double row_real(const Row *row, int column)
{
    const Value *value = at(row, column, COLUMN_REAL);

    return value->set ? value->real : 0;
}

static void note_change(Row *row, int column)
{
    row->changed |= UINT64_C(1) << column;
}

void row_mark_stored(Row *row)
{
    row->stored = true;
    row->changed = 0;
}

bool row_is_stored(const Row *row)
{
    return row->stored;
}

uint64_t row_changed(const Row *row)
{
    return row->changed;
}

void row_set_null(Row *row, int column)
{
    g_assert(column >= 0 && column < row->table->columns);
    if (row->value[column].set) note_change(row, column);
    if (row->value[column].set && row->table->column[column].type == COLUMN_TEXT)
        drop_text(row, row->value[column].text);
    row->value[column] = (Value){0};
}

void row_set_text(Row *row, int column, const char *text)
{
    Value *value = (Value *)at(row, column, COLUMN_TEXT);

    if (value->set == (text != NULL) && (text == NULL || strcmp(value->text, text) == 0)) return;
    note_change(row, column);
    char *copy =
        text != NULL ? keep_text(row, text) : NULL; /* first: text may be the value itself */

    if (value->set) drop_text(row, value->text);
    value->set = copy != NULL;
    value->text = copy;
}

void row_set_int(Row *row, int column, int64_t integer)
{
    Value *value = (Value *)at(row, column, COLUMN_INTEGER);

    if (value->set && value->integer == integer) return;
    note_change(row, column);
    value->set = true;
    value->integer = integer;
}

void row_set_real(Row *row, int column, double real)
{
    Value *value = (Value *)at(row, column, COLUMN_REAL);

    note_change(row, column);
    value->set = true;
    value->real = real;
}

void row_copy_value(Row *to, int to_column, const Row *from, int from_column)
{
    if (row_is_null(from, from_column)) {
        row_set_null(to, to_column);
        return;
    }
    switch (from->table->column[from_column].type) {
    case COLUMN_TEXT: row_set_text(to, to_column, from->value[from_column].text); break;
    case COLUMN_INTEGER: row_set_int(to, to_column, from->value[from_column].integer); break;
    case COLUMN_REAL: row_set_real(to, to_column, from->value[from_column].real); break;
    }
}

int row_compare_value(const Row *a, const Row *b, int column)
{
    const Value *x = &a->value[column], *y = &b->value[column];

    g_assert(a->id == b->id && column >= 0 && column < a->table->columns);
    if (!x->set || !y->set) return (x->set ? 1 : 0) - (y->set ? 1 : 0);
    switch (a->table->column[column].type) {
    case COLUMN_TEXT: return strcmp(x->text, y->text);
    case COLUMN_INTEGER: return (x->integer > y->integer) - (x->integer < y->integer);
    case COLUMN_REAL: return (x->real > y->real) - (x->real < y->real);
    }
    return 0;
}

int row_compare_key(const Row *a, const Row *b)
{
    int order = 0;

    for (int i = 0; i < a->table->keys && order == 0; i++)
        order = row_compare_value(a, b, i);
    return order;
}

guint row_hash_key(const Row *row)
{
    guint hash = (guint)row->id;

    for (int i = 0; i < row->table->keys; i++) {
        const Value *value = &row->value[i];
        if (!value->set) continue;
        guint of = row->table->column[i].type == COLUMN_TEXT ? g_str_hash(value->text)
                                                             : g_int64_hash(&value->integer);
        hash = hash * 31 + of;
    }
    return hash;
}

/* A text inside quotes, so that no two rows print alike. */
static void append_quoted(GString *line, const char *text)
{
    g_string_append_c(line, '"');
    for (const char *p = text; *p != '\0'; p++) {
        if (*p == '"' || *p == '\\') g_string_append_c(line, '\\');
        if (*p == '\n')
            g_string_append(line, "\\n");
        else
            g_string_append_c(line, *p);
    }
    g_string_append_c(line, '"');
}

void row_append_line(const Row *row, GString *line)
{
    char number[G_ASCII_DTOSTR_BUF_SIZE];

    g_string_append(line, row->table->name);
    for (int i = 0; i < row->table->columns; i++) {
        const Value *value = &row->value[i];

        if (!value->set) continue;
        g_string_append_c(line, ' ');
        g_string_append(line, row->table->column[i].name);
        g_string_append_c(line, '=');
        switch (row->table->column[i].type) {
        case COLUMN_TEXT: append_quoted(line, value->text); break;
        case COLUMN_INTEGER:
            g_string_append_printf(line, "%" G_GINT64_FORMAT, value->integer);
            break;
        case COLUMN_REAL:
            g_string_append(line, g_ascii_dtostr(number, sizeof number, value->real));
            break;
        }
    }
    g_string_append_c(line, '\n');
}
