/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/support/ledger_tables.h"

#include "core/ledger/row.h"

static char *key_text(const Row *row)
{
    const Table *table = table_of(row_table(row));
    GString *key = g_string_new(table->name);

    for (int i = 0; i < table->keys; i++) {
        g_assert(!row_is_null(row, i));
        if (table->column[i].type == COLUMN_TEXT)
            g_string_append_printf(key, "|%s", row_text(row, i));
        else
            g_string_append_printf(key, "|%020" G_GINT64_FORMAT, row_int(row, i));
    }
    return g_string_free(key, FALSE);
}

static void free_row(gpointer row)
{
    row_free(row);
}

LedgerTables *ledger_tables_new(void)
{
    LedgerTables *tables = g_new0(LedgerTables, 1);

    tables->rows = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, free_row);
    tables->same = same_new();
    return tables;
}

void ledger_tables_free(LedgerTables *tables)
{
    g_hash_table_destroy(tables->rows);
    same_free(tables->same);
    g_free(tables);
}

static const Row *look_up(LedgerTables *tables, const Row *key)
{
    g_autofree char *text = key_text(key);

    return g_hash_table_lookup(tables->rows, text);
}

static Row *get(void *context, const Row *key)
{
    const Row *row = look_up(context, key);

    return row != NULL ? row_copy(row) : NULL;
}

static void put(void *context, const Row *row)
{
    LedgerTables *tables = context;

    g_assert(!table_of(row_table(row))->local);
    g_hash_table_replace(tables->rows, key_text(row), row_copy(row));
}

static const char *one(void *context, const char *client)
{
    return same_one(((LedgerTables *)context)->same, client);
}

FoldTables ledger_tables_fold(LedgerTables *tables)
{
    return (FoldTables){.get = get, .put = put, .one = one, .context = tables};
}

void ledger_tables_note(LedgerTables *tables, const Event *event)
{
    if (strcmp(event->kind, "client.same_as") != 0 || event->body == NULL) return;
    json_t *body = json_loads(event->body, 0, NULL);
    const char *of = json_string_value(json_object_get(body, "of"));

    if (of != NULL && *of != '\0') same_add(tables->same, event->subject, of);
    json_decref(body);
}

const Row *ledger_tables_row(LedgerTables *tables, TableId table, const char *key)
{
    g_autoptr(Row) row = row_new(table);

    row_set_text(row, 0, key);
    return look_up(tables, row);
}

const Row *ledger_tables_pair(LedgerTables *tables, TableId table, const char *first,
                              const char *second)
{
    g_autoptr(Row) row = row_new(table);

    row_set_text(row, 0, first);
    row_set_text(row, 1, second);
    return look_up(tables, row);
}

static int compare_texts(gconstpointer a, gconstpointer b)
{
    return strcmp(a, b);
}

char *ledger_tables_dump(LedgerTables *tables)
{
    GList *keys = g_list_sort(g_hash_table_get_keys(tables->rows), compare_texts);
    GString *dump = g_string_new(NULL);

    for (GList *at = keys; at != NULL; at = at->next)
        row_append_line(g_hash_table_lookup(tables->rows, at->data), dump);
    g_list_free(keys);
    return g_string_free(dump, FALSE);
}

Event *ledger_event(const char *replica, int64_t seq, int64_t wall, const char *kind,
                    const char *subject, const char *body)
{
    Event *event = event_new();

    event->replica = g_strdup(replica);
    event->seq = seq;
    event->wall = wall;
    event->kind = g_strdup(kind);
    event->subject = g_strdup(subject);
    event->author = g_strdup("osier");
    event->body = g_strdup(body);
    return event;
}
