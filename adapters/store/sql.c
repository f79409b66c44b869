/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/store/sql.h"

static const char *type_name(ColumnType type)
{
    switch (type) {
    case COLUMN_TEXT: return "TEXT";
    case COLUMN_INTEGER: return "INTEGER";
    case COLUMN_REAL: return "REAL";
    }
    g_assert_not_reached();
}

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

static char *create_table(const Table *table)
{
    GString *sql = g_string_new(NULL);

    g_string_append_printf(sql, "CREATE TABLE %s (", table->name);
    for (int i = 0; i < table->columns; i++)
        g_string_append_printf(sql, "\"%s\" %s%s, ", table->column[i].name,
                               type_name(table->column[i].type),
                               i < table->keys ? " NOT NULL" : "");
    g_string_append(sql, "PRIMARY KEY (");
    add_columns(sql, table, 0, table->keys, ", ", false);
    g_string_append(sql, table->long_rows ? ")) STRICT" : ")) STRICT, WITHOUT ROWID");
    return g_string_free(sql, FALSE);
}

/* "client, at" or "glance where glance = 1". */
static char *create_index(const Table *table, int number)
{
    g_auto(GStrv) halves = g_strsplit(table->indexes[number], " where ", 2);

    return g_strdup_printf("CREATE INDEX %s_%d ON %s (%s)%s%s", table->name, number + 1,
                           table->name, halves[0], halves[1] != NULL ? " WHERE " : "",
                           halves[1] != NULL ? halves[1] : "");
}

GPtrArray *sql_create(TableId id)
{
    const Table *table = table_of(id);
    GPtrArray *statements = g_ptr_array_new_with_free_func(g_free);

    g_ptr_array_add(statements, create_table(table));
    for (int i = 0; table->indexes[i] != NULL; i++)
        g_ptr_array_add(statements, create_index(table, i));
    return statements;
}

char *sql_add_column(TableId id, int column)
{
    const Table *table = table_of(id);

    return g_strdup_printf("ALTER TABLE %s ADD COLUMN \"%s\" %s", table->name,
                           table->column[column].name, type_name(table->column[column].type));
}

/* Salt and hashes are bytes. Bodies can be long, so this table keeps SQLite's row numbers. */
GPtrArray *sql_create_events(void)
{
    static const char *const EVENTS[] = {
        "CREATE TABLE event (replica TEXT NOT NULL, seq INTEGER NOT NULL, wall INTEGER NOT NULL, "
        "logical INTEGER NOT NULL, kind TEXT NOT NULL, subject TEXT NOT NULL, author TEXT NOT "
        "NULL, "
        "base TEXT, salt BLOB NOT NULL, body TEXT, body_hash BLOB NOT NULL, digest BLOB NOT NULL) "
        "STRICT",
        "CREATE UNIQUE INDEX event_key ON event (replica, seq)",
        "CREATE INDEX event_stamp ON event (wall, logical, replica, seq)",
        "CREATE INDEX event_subject ON event (subject)",
    };
    GPtrArray *statements = g_ptr_array_new_with_free_func(g_free);

    for (size_t i = 0; i < G_N_ELEMENTS(EVENTS); i++)
        g_ptr_array_add(statements, g_strdup(EVENTS[i]));
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

    g_string_append_printf(sql, "INSERT INTO %s VALUES (", table->name);
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
