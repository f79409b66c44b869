/* SPDX-License-Identifier: Apache-2.0 */
/* A statement is prepared when it first runs, for only then are the types of its arguments known: PostgreSQL wants them said
 * where it cannot see them ("?1 IS NULL OR client = ?1"). Preparation and run are sent together. */
#include <stdlib.h>
#include <string.h>

#include "adapters/store/postgres_part.h"

/* So that neither side waits for the other to read. */
#define SENT_MAX 256
/* Rows of a walk that are fetched together. */
#define WALK_ROWS 1000

/* --- arguments --- */

static void set(PgStatement *s, int at, Oid type, const char *value, int length, int format)
{
    int i = at - 1;

    g_assert(i >= 0 && i < s->count);
    s->types[i] = type;
    s->values[i] = value;
    s->lengths[i] = length;
    s->formats[i] = format;
}

static void bind_null(Statement *statement, int at, ValueType type)
{
    static const Oid OIDS[] = {[VALUE_NULL] = OID_TEXT,
                               [VALUE_TEXT] = OID_TEXT,
                               [VALUE_INTEGER] = OID_INT8,
                               [VALUE_REAL] = OID_FLOAT8,
                               [VALUE_BYTES] = OID_BYTES};

    set(postgres_statement(statement), at, OIDS[type], NULL, 0, 0);
}

static void bind_text(Statement *statement, int at, const char *text)
{
    PgStatement *s = postgres_statement(statement);

    set(s, at, OID_TEXT, text, 0, 0);
    if (g_utf8_validate(text, -1, NULL)) return;
    g_free(s->valid[at - 1]);
    s->values[at - 1] = s->valid[at - 1] = g_utf8_make_valid(text, -1);
}

static void bind_number(PgStatement *s, int at, Oid type, uint64_t number)
{
    set(s, at, type, (const char *)&s->numbers[at - 1], 8, 1);
    s->numbers[at - 1] = GUINT64_TO_BE(number);
}

static void bind_int(Statement *statement, int at, int64_t value)
{
    bind_number(postgres_statement(statement), at, OID_INT8, (uint64_t)value);
}

static void bind_real(Statement *statement, int at, double value)
{
    uint64_t number;

    memcpy(&number, &value, sizeof number);
    bind_number(postgres_statement(statement), at, OID_FLOAT8, number);
}

static void bind_bytes(Statement *statement, int at, const uint8_t *bytes, int length)
{
    set(postgres_statement(statement), at, OID_BYTES, (const char *)bytes, length, 1);
}

/* --- running --- */

static bool is_prepared(const PgStatement *s)
{
    return s->made == s->postgres->made && s->name[0] != '\0' &&
           memcmp(s->types, s->prepared_types, (size_t)s->count * sizeof *s->types) == 0;
}

static bool send_preparation(PgStatement *s)
{
    Postgres *postgres = s->postgres;

    if (s->made != 0 && s->name[0] != '\0')
        g_snprintf(s->name, sizeof s->name, "s%d", ++postgres->names);
    if (PQsendPrepare(postgres->connection, s->name, s->sql, s->count, s->types) == 0) return false;
    postgres->sent++;
    memcpy(s->prepared_types, s->types, (size_t)s->count * sizeof *s->types);
    s->made = postgres->made;
    g_ptr_array_add(postgres->fresh, s);
    return true;
}

static bool send_run(PgStatement *s)
{
    Postgres *postgres = s->postgres;

    if (postgres->lost) return false;
    if ((is_prepared(s) || send_preparation(s)) &&
        PQsendQueryPrepared(postgres->connection, s->name, s->count, s->values, s->lengths,
                            s->formats, 0) != 0) {
        postgres->sent++;
        return true;
    }
    postgres_note(postgres, NULL);
    return false;
}

/* --- rows some at a time --- */

/* A command without arguments. */
static bool send_text(Postgres *postgres, const char *text)
{
    if (!postgres->lost &&
        PQsendQueryParams(postgres->connection, text, 0, NULL, NULL, NULL, NULL, 0) != 0) {
        postgres->sent++;
        return true;
    }
    postgres_note(postgres, NULL);
    return false;
}

static bool fetch(PgStatement *s)
{
    char command[64];

    g_clear_pointer(&s->result, PQclear);
    s->row = 0;
    g_snprintf(command, sizeof command, "FETCH %d FROM %s", WALK_ROWS, s->name);
    if (send_text(s->postgres, command)) s->result = postgres_answer(s->postgres);
    return s->result != NULL;
}

static bool begin_walk(PgStatement *s)
{
    g_autofree char *declare =
        g_strdup_printf("DECLARE %s NO SCROLL CURSOR FOR %s", s->name, s->sql);

    s->walking = send_text(s->postgres, declare);
    return s->walking && fetch(s);
}

static void end_walk(PgStatement *s)
{
    char command[64];

    g_snprintf(command, sizeof command, "CLOSE %s", s->name);
    if (s->walking && PQtransactionStatus(s->postgres->connection) == PQTRANS_INTRANS)
        send_text(s->postgres, command);
    s->walking = false;
}

static void drop_row(PgStatement *s)
{
    if (s->lent->len > 0) g_ptr_array_set_size(s->lent, 0);
}

static void drop_result(PgStatement *s)
{
    drop_row(s);
    g_clear_pointer(&s->result, PQclear);
    s->row = 0;
    if (s->walks) end_walk(s);
}

static bool run(PgStatement *s)
{
    s->changes = 0;
    if (s->walks) return begin_walk(s);
    if (!send_run(s)) return false;
    s->result = postgres_answer(s->postgres);
    if (s->result == NULL) return false;
    s->changes = atoi(PQcmdTuples(s->result));
    return true;
}

static Step step(Statement *statement)
{
    PgStatement *s = postgres_statement(statement);

    if (s->result == NULL) {
        if (!run(s)) return STEP_ERROR;
    } else {
        drop_row(s);
        s->row++;
        if (s->walks && s->row == WALK_ROWS && !fetch(s)) return STEP_ERROR;
    }
    if (s->row < PQntuples(s->result)) return STEP_ROW;
    drop_result(s);
    return STEP_DONE;
}

static Step quiet(Statement *statement)
{
    PgStatement *s = postgres_statement(statement);

    if (!send_run(s)) return STEP_ERROR;
    if (s->postgres->sent < SENT_MAX) return STEP_DONE;
    PGresult *result = postgres_answer(s->postgres);
    if (result == NULL) return STEP_ERROR;
    PQclear(result);
    return STEP_DONE;
}

static int changes(Statement *statement)
{
    return postgres_statement(statement)->changes;
}

static bool is_busy(Statement *statement)
{
    return postgres_statement(statement)->result != NULL;
}

static void reset(Statement *statement)
{
    drop_result(postgres_statement(statement));
}

static void clear(Statement *statement)
{
    PgStatement *s = postgres_statement(statement);

    drop_result(s);
    for (int i = 0; i < s->count; i++)
        s->values[i] = NULL;
}

static void free_statement(Statement *statement)
{
    PgStatement *s = postgres_statement(statement);

    drop_result(s);
    g_ptr_array_remove(s->postgres->fresh, s);
    g_ptr_array_unref(s->lent);
    for (int i = 0; i < s->count; i++)
        g_free(s->valid[i]);
    g_free(s->valid);
    g_free(s->types);
    g_free(s->prepared_types);
    g_free(s->values);
    g_free(s->lengths);
    g_free(s->formats);
    g_free(s->numbers);
    g_free(s->sql);
    g_free(s);
}

static Statement *twin(Statement *statement);

static const StatementCalls CALLS = {
    .bind_null = bind_null,
    .bind_text = bind_text,
    .bind_int = bind_int,
    .bind_real = bind_real,
    .bind_bytes = bind_bytes,
    .columns = postgres_columns,
    .type = postgres_column_type,
    .text = postgres_column_text,
    .integer = postgres_column_integer,
    .real = postgres_column_real,
    .bytes = postgres_column_bytes,
    .step = step,
    .quiet = quiet,
    .changes = changes,
    .is_busy = is_busy,
    .twin = twin,
    .reset = reset,
    .clear = clear,
    .free = free_statement,
};

/* Takes over the text, which is translated. */
static PgStatement *make(Postgres *postgres, char *sql, int count)
{
    PgStatement *s = g_new0(PgStatement, 1);
    gsize size = (gsize)MAX(count, 1);

    s->statement.calls = &CALLS;
    s->postgres = postgres;
    s->sql = sql;
    s->count = count;
    s->types = g_new0(Oid, size);
    s->prepared_types = g_new0(Oid, size);
    s->values = g_new0(const char *, size);
    s->lengths = g_new0(int, size);
    s->formats = g_new0(int, size);
    s->numbers = g_new0(uint64_t, size);
    s->valid = g_new0(char *, size);
    s->lent = g_ptr_array_new_with_free_func(g_free);
    return s;
}

static Statement *twin(Statement *statement)
{
    const PgStatement *s = postgres_statement(statement);

    return &make(s->postgres, g_strdup(s->sql), s->count)->statement;
}

Statement *postgres_prepare(Postgres *postgres, const char *sql)
{
    int count;
    char *text = postgres_translate(sql, &count);
    PgStatement *s = make(postgres, text, count);

    g_snprintf(s->name, sizeof s->name, "s%d", ++postgres->names);
    return &s->statement;
}

Statement *postgres_walk(Postgres *postgres, const char *sql)
{
    PgStatement *s = (PgStatement *)postgres_prepare(postgres, sql);

    g_assert(s->count == 0);
    s->walks = true;
    return &s->statement;
}

void postgres_unprepare(Statement *statement)
{
    PgStatement *s = postgres_statement(statement);

    s->made = -1;
}
