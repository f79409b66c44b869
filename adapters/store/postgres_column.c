/* SPDX-License-Identifier: Apache-2.0 */
/* The columns of a row, as SQLite would give them. */
#include <string.h>

#include "adapters/store/postgres_part.h"

int postgres_columns(Statement *statement)
{
    return PQnfields(postgres_statement(statement)->result);
}

static const char *value_at(Statement *statement, int column)
{
    return PQgetvalue(postgres_statement(statement)->result, postgres_statement(statement)->row,
                      column);
}

ValueType postgres_column_type(Statement *statement, int column)
{
    const PgStatement *s = postgres_statement(statement);

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

double postgres_column_real(Statement *statement, int column)
{
    return g_ascii_strtod(value_at(statement, column), NULL);
}

int64_t postgres_column_integer(Statement *statement, int column)
{
    const char *value = value_at(statement, column);

    switch (PQftype(postgres_statement(statement)->result, column)) {
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

const char *postgres_column_text(Statement *statement, int column)
{
    switch (postgres_column_type(statement, column)) {
    case VALUE_NULL: return NULL;
    case VALUE_REAL:
        return text_of_real(postgres_statement(statement), postgres_column_real(statement, column));
    default: return value_at(statement, column);
    }
}

/* Bytes come as \x and two digits for each. */
const uint8_t *postgres_column_bytes(Statement *statement, int column, int *length)
{
    const char *value = value_at(statement, column);

    *length = 0;
    if (postgres_column_type(statement, column) != VALUE_BYTES || strncmp(value, "\\x", 2) != 0)
        return NULL;
    *length = (PQgetlength(postgres_statement(statement)->result,
                           postgres_statement(statement)->row, column) -
               2) /
              2;
    uint8_t *decoded = g_malloc((gsize)*length + 1);
    for (int i = 0; i < *length; i++)
        decoded[i] = (uint8_t)(g_ascii_xdigit_value(value[2 + 2 * i]) << 4 |
                               g_ascii_xdigit_value(value[3 + 2 * i]));
    g_ptr_array_add(postgres_statement(statement)->lent, decoded);
    return decoded;
}
