/* SPDX-License-Identifier: Apache-2.0 */
/* A statement is prepared when it first runs, for only then are the types of its arguments known: PostgreSQL wants them said
 * where it cannot see them ("?1 IS NULL OR client = ?1"). Preparation and run are sent together. */
#include <stdlib.h>
#include <string.h>

#include "adapters/store/postgres_part.h"

/* From the server's catalogue of types, which does not change. */
enum { OID_BOOL = 16, OID_BYTES = 17, OID_INT8 = 20, OID_INT2 = 21, OID_INT4 = 23, OID_TEXT = 25 };
enum { OID_FLOAT4 = 700, OID_FLOAT8 = 701, OID_NUMERIC = 1700 };

/* So that neither side waits for the other to read. */
#define SENT_MAX 256
/* Rows of a walk that are fetched together. */
#define WALK_ROWS 1000

typedef struct {
    Statement statement;
    Postgres *postgres;
    char *sql;
    char name[16]; /* "": prepared at each run */
    int made;      /* in which connection it is prepared; 0: in none */
    int count;     /* of arguments */
    Oid *types;
    Oid *prepared_types;
    const char **values;
    int *lengths;
    int *formats;
    uint64_t *numbers; /* what values points to, for numbers */
    char **valid;      /* and for texts that were no UTF-8 */
    bool walks;        /* its rows come some at a time, from a cursor of its name */
    bool walking;
    PGresult *result;
    int row;
    int changes;
    GPtrArray *lent; /* texts and bytes of the row */
} PgStatement;

static PgStatement *of(Statement *statement)
{
    return (PgStatement *)statement;
}

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

    set(of(statement), at, OIDS[type], NULL, 0, 0);
}

static void bind_text(Statement *statement, int at, const char *text)
{
    PgStatement *s = of(statement);

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
    bind_number(of(statement), at, OID_INT8, (uint64_t)value);
}

static void bind_real(Statement *statement, int at, double value)
{
    uint64_t number;

    memcpy(&number, &value, sizeof number);
    bind_number(of(statement), at, OID_FLOAT8, number);
}

static void bind_bytes(Statement *statement, int at, const uint8_t *bytes, int length)
{
    set(of(statement), at, OID_BYTES, (const char *)bytes, length, 1);
}

/* --- columns --- */

static int columns(Statement *statement)
{
    return PQnfields(of(statement)->result);
}

static const char *value_at(Statement *statement, int column)
{
    return PQgetvalue(of(statement)->result, of(statement)->row, column);
}

static ValueType type(Statement *statement, int column)
{
    const PgStatement *s = of(statement);

    if (PQgetisnull(s->result, s->row, column)) return VALUE_NULL;
    switch (PQftype(s->result, column)) {
    case OID_BOOL:
    case OID_INT8:
    case OID_INT2:
    case OID_INT4: return VALUE_INTEGER;
    case OID_FLOAT4:
    case OID_FLOAT8: return VALUE_REAL;
    /* a sum of integers is one */
    case OID_NUMERIC:
        return strchr(value_at(statement, column), '.') != NULL ? VALUE_REAL : VALUE_INTEGER;
    case OID_BYTES: return VALUE_BYTES;
    default: return VALUE_TEXT;
    }
}

static double real(Statement *statement, int column)
{
    return g_ascii_strtod(value_at(statement, column), NULL);
}

static int64_t integer(Statement *statement, int column)
{
    const char *value = value_at(statement, column);

    switch (PQftype(of(statement)->result, column)) {
    case OID_BOOL: return *value == 't';
    case OID_FLOAT4:
    case OID_FLOAT8: return (int64_t)g_ascii_strtod(value, NULL);
    default: return g_ascii_strtoll(value, NULL, 10);
    }
}

/* A real as SQLite writes it: 3.0, not 3. */
static const char *text_of_real(PgStatement *s, double value)
{
    char digits[G_ASCII_DTOSTR_BUF_SIZE];

    g_ascii_formatd(digits, sizeof digits, "%.15g", value);
    char *text = g_strconcat(digits, strpbrk(digits, ".eni") == NULL ? ".0" : "", NULL);
    g_ptr_array_add(s->lent, text);
    return text;
}

static const char *text(Statement *statement, int column)
{
    switch (type(statement, column)) {
    case VALUE_NULL: return NULL;
    case VALUE_REAL: return text_of_real(of(statement), real(statement, column));
    default: return value_at(statement, column);
    }
}

/* Bytes come as \x and two digits for each. */
static const uint8_t *bytes(Statement *statement, int column, int *length)
{
    const char *value = value_at(statement, column);

    *length = 0;
    if (type(statement, column) != VALUE_BYTES || strncmp(value, "\\x", 2) != 0) return NULL;
    *length = (PQgetlength(of(statement)->result, of(statement)->row, column) - 2) / 2;
    uint8_t *decoded = g_malloc((gsize)*length + 1);
    for (int i = 0; i < *length; i++)
        decoded[i] = (uint8_t)(g_ascii_xdigit_value(value[2 + 2 * i]) << 4 |
                               g_ascii_xdigit_value(value[3 + 2 * i]));
    g_ptr_array_add(of(statement)->lent, decoded);
    return decoded;
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
    PgStatement *s = of(statement);

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
    PgStatement *s = of(statement);

    if (!send_run(s)) return STEP_ERROR;
    if (s->postgres->sent < SENT_MAX) return STEP_DONE;
    PGresult *result = postgres_answer(s->postgres);
    if (result == NULL) return STEP_ERROR;
    PQclear(result);
    return STEP_DONE;
}

static int changes(Statement *statement)
{
    return of(statement)->changes;
}

static bool is_busy(Statement *statement)
{
    return of(statement)->result != NULL;
}

static void reset(Statement *statement)
{
    drop_result(of(statement));
}

static void clear(Statement *statement)
{
    PgStatement *s = of(statement);

    drop_result(s);
    for (int i = 0; i < s->count; i++)
        s->values[i] = NULL;
}

static void free_statement(Statement *statement)
{
    PgStatement *s = of(statement);

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
    .columns = columns,
    .type = type,
    .text = text,
    .integer = integer,
    .real = real,
    .bytes = bytes,
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
    const PgStatement *s = of(statement);

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
    PgStatement *s = of(statement);

    s->made = -1;
}
