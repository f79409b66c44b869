/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/store/sql.h"

/* "a", "b", ... from the first to before the last. format has one %s. */
static void add_columns(GString *sql, const Table *table, int first, int last, const char *between,
                        bool assign)
{
    for (int i = first; i < last; i++) {
        const char *name = table->column[i].name;

        g_string_append_printf(sql, "%s\"%s\"", i > first ? between : "", name);
        if (assign) g_string_append_printf(sql, " = excluded.\"%s\"", name);
    }
}

static void add_keys_given(GString *sql, const Table *table)
{
    for (int i = 0; i < table->keys; i++)
        g_string_append_printf(sql, "%s\"%s\" = ?%d", i > 0 ? " AND " : " WHERE ",
                               table->column[i].name, i + 1);
}

static char *create_table(const Dialect *dialect, const Table *table)
{
    GString *sql = g_string_new(NULL);

    g_string_append_printf(sql, "CREATE TABLE %s (", table->name);
    for (int i = 0; i < table->columns; i++)
        g_string_append_printf(sql, "\"%s\" %s%s, ", table->column[i].name,
                               dialect->types[table->column[i].type],
                               i < table->keys ? " NOT NULL" : "");
    if (table->long_rows) g_string_append(sql, dialect->long_rows_column);
    g_string_append(sql, "PRIMARY KEY (");
    add_columns(sql, table, 0, table->keys, ", ", false);
    g_string_append_printf(sql, ")) %s",
                           table->long_rows ? dialect->long_rows : dialect->short_rows);
    return g_string_free(sql, FALSE);
}

/* "client, at" or "glance where glance = 1". */
static char *create_index(const Dialect *dialect, const Table *table, int number)
{
    g_auto(GStrv) halves = g_strsplit(table->indexes[number], " where ", 2);
    g_auto(GStrv) columns = g_strsplit(halves[0], ", ", -1);
    GString *sql = g_string_new(NULL);

    g_string_append_printf(sql, "CREATE INDEX %s_%d ON %s (", table->name, number + 1, table->name);
    for (int i = 0; columns[i] != NULL; i++)
        g_string_append_printf(sql, "%s%s%s", i > 0 ? ", " : "", columns[i], dialect->index_order);
    g_string_append_printf(sql, ")%s%s", halves[1] != NULL ? " WHERE " : "",
                           halves[1] != NULL ? halves[1] : "");
    return g_string_free(sql, FALSE);
}

GPtrArray *sql_create(const Dialect *dialect, TableId id)
{
    const Table *table = table_of(id);
    GPtrArray *statements = g_ptr_array_new_with_free_func(g_free);

    g_ptr_array_add(statements, create_table(dialect, table));
    for (int i = 0; table->indexes[i] != NULL; i++)
        g_ptr_array_add(statements, create_index(dialect, table, i));
    return statements;
}

char *sql_add_column(const Dialect *dialect, TableId id, int column)
{
    const Table *table = table_of(id);

    return g_strdup_printf("ALTER TABLE %s ADD COLUMN \"%s\" %s", table->name,
                           table->column[column].name, dialect->types[table->column[column].type]);
}

/* Salt and hashes are bytes. Bodies can be long, so this table keeps its rows in the order of their making. */
GPtrArray *sql_create_events(const Dialect *dialect)
{
    const char *text = dialect->types[COLUMN_TEXT], *integer = dialect->types[COLUMN_INTEGER],
               *bytes = dialect->bytes;
    GPtrArray *statements = g_ptr_array_new_with_free_func(g_free);

    g_ptr_array_add(
        statements,
        g_strdup_printf("CREATE TABLE event (replica %s NOT NULL, seq %s NOT NULL, wall %s NOT "
                        "NULL, logical %s NOT NULL, kind %s NOT NULL, subject %s NOT NULL, author "
                        "%s NOT NULL, base %s, salt %s NOT NULL, body %s, body_hash %s NOT NULL, "
                        "digest %s NOT NULL) %s",
                        text, integer, integer, integer, text, text, text, text, bytes, text, bytes,
                        bytes, dialect->long_rows));
    g_ptr_array_add(statements,
                    g_strdup_printf("CREATE UNIQUE INDEX event_key ON event (replica%s, seq%s)",
                                    dialect->index_order, dialect->index_order));
    g_ptr_array_add(statements, g_strdup_printf("CREATE INDEX event_subject ON event (subject%s)",
                                                dialect->index_order));
    return statements;
}

char *sql_select(TableId id)
{
    const Table *table = table_of(id);
    GString *sql = g_string_new("SELECT ");

    add_columns(sql, table, 0, table->columns, ", ", false);
    g_string_append_printf(sql, " FROM %s", table->name);
    return g_string_free(sql, FALSE);
}

char *sql_select_ordered(TableId id)
{
    const Table *table = table_of(id);
    g_autofree char *select = sql_select(id);
    GString *sql = g_string_new(select);

    for (int i = 0; i < table->keys; i++)
        g_string_append_printf(sql, "%s\"%s\"", i > 0 ? ", " : " ORDER BY ", table->column[i].name);
    return g_string_free(sql, FALSE);
}

char *sql_get(TableId id)
{
    g_autofree char *select = sql_select(id);
    GString *sql = g_string_new(select);

    add_keys_given(sql, table_of(id));
    return g_string_free(sql, FALSE);
}

char *sql_put(TableId id)
{
    const Table *table = table_of(id);
    GString *sql = g_string_new(NULL);

    g_string_append_printf(sql, "INSERT INTO %s (", table->name);
    add_columns(sql, table, 0, table->columns, ", ", false);
    g_string_append(sql, ") VALUES (");
    for (int i = 0; i < table->columns; i++)
        g_string_append_printf(sql, "%s?%d", i > 0 ? ", " : "", i + 1);
    g_string_append(sql, ") ON CONFLICT (");
    add_columns(sql, table, 0, table->keys, ", ", false);
    g_string_append(sql, table->columns > table->keys ? ") DO UPDATE SET " : ") DO NOTHING");
    add_columns(sql, table, table->keys, table->columns, ", ", true);
    return g_string_free(sql, FALSE);
}

char *sql_update(TableId id, uint64_t changed)
{
    const Table *table = table_of(id);
    GString *sql = g_string_new(NULL);
    bool first = true;

    g_string_append_printf(sql, "UPDATE %s SET ", table->name);
    for (int i = table->keys; i < table->columns; i++) {
        if ((changed >> i & 1) == 0) continue;
        g_string_append_printf(sql, "%s\"%s\" = ?%d", first ? "" : ", ", table->column[i].name,
                               i + 1);
        first = false;
    }
    add_keys_given(sql, table);
    return g_string_free(sql, FALSE);
}

char *sql_remove(TableId id)
{
    const Table *table = table_of(id);
    GString *sql = g_string_new(NULL);

    g_string_append_printf(sql, "DELETE FROM %s", table->name);
    add_keys_given(sql, table);
    return g_string_free(sql, FALSE);
}

char *sql_tail(const char *tail)
{
    static const char *const WORDS[] = {"where ", "order ", "limit "};

    while (*tail == ' ')
        tail++;
    if (*tail == '\0') return g_strdup("");
    for (size_t i = 0; i < G_N_ELEMENTS(WORDS); i++)
        if (g_ascii_strncasecmp(tail, WORDS[i], strlen(WORDS[i])) == 0)
            return g_strconcat(" ", tail, NULL);
    return g_strconcat(" WHERE ", tail, NULL);
}
