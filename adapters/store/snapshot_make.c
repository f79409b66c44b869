/* SPDX-License-Identifier: Apache-2.0 */
#include <glib/gstdio.h>
#include <string.h>

#include "adapters/store/anew.h"
#include "adapters/store/read.h"
#include "adapters/store/snapshot_part.h"
#include "adapters/store/sql.h"

static Cell cell_of(Statement *statement, int column, CellKind kind)
{
    const StatementCalls *calls = statement->calls;
    Cell cell = {.kind = kind};
    int length = 0;

    if (kind == CELL_TEXT) {
        cell.text = calls->text(statement, column);
        cell.kind = cell.text != NULL ? CELL_TEXT : CELL_NULL;
        cell.length = cell.text != NULL ? strlen(cell.text) : 0;
        return cell;
    }
    if (calls->type(statement, column) == VALUE_NULL) return (Cell){.kind = CELL_NULL};
    switch (kind) {
    case CELL_INTEGER: cell.integer = calls->integer(statement, column); break;
    case CELL_REAL: cell.real = calls->real(statement, column); break;
    case CELL_BYTES:
        cell.text = (const char *)calls->bytes(statement, column, &length);
        cell.length = (size_t)length;
        break;
    default: break;
    }
    return cell;
}

static void write_rows(Tx *tx, SnapshotOut *out, TableId table, const char *sql,
                       const CellKind *kinds, int columns)
{
    Statement *statement = engine_walk(tx, sql);
    Cell cells[SNAPSHOT_COLUMNS_MAX];

    g_assert(columns <= SNAPSHOT_COLUMNS_MAX);
    while (out->problem == NULL && engine_step(tx, statement)) {
        for (int i = 0; i < columns; i++)
            cells[i] = cell_of(statement, i, kinds[i]);
        snapshot_out_row(out, table, cells, columns);
    }
    engine_give_back(statement, true);
}

/* Rows that lie in the order of their making keep it. */
static void write_table(Tx *tx, SnapshotOut *out, TableId id)
{
    static const CellKind KIND_OF[] = {
        [COLUMN_TEXT] = CELL_TEXT, [COLUMN_INTEGER] = CELL_INTEGER, [COLUMN_REAL] = CELL_REAL};
    const Table *table = table_of(id);
    g_autofree char *select = sql_select(id), *ordered = sql_select_ordered(id);
    g_autofree char *sql =
        table->long_rows ? g_strconcat(select, " ORDER BY rowid", NULL) : g_steal_pointer(&ordered);
    CellKind kinds[SNAPSHOT_COLUMNS_MAX];

    for (int i = 0; i < table->columns; i++)
        kinds[i] = KIND_OF[table->column[i].type];
    write_rows(tx, out, id, sql, kinds, table->columns);
}

/* In the order in which they were written down each chain is in order, and no index is asked. */
static void write_all(Tx *tx, SnapshotOut *out)
{
    g_autofree char *events =
        g_strconcat("SELECT ", ENGINE_EVENT_COLUMNS, " FROM event ORDER BY rowid", NULL);

    write_rows(tx, out, TABLE_COUNT, events, SNAPSHOT_EVENT_KINDS, SNAPSHOT_EVENT_COLUMNS);
    for (TableId id = 0; id < TABLE_COUNT; id++)
        if (snapshot_has_table(id)) write_table(tx, out, id);
}

static char *make(Tx *tx, const char *path, SnapshotMade *made)
{
    g_autoptr(GByteArray) head = g_byte_array_new();
    g_autoptr(GArray) none = vector_new();
    SnapshotLook look = {.vector = tx_vector(tx), .crossed = anew_is_crossed(tx)};
    SnapshotOut out;

    made->events = look.events = vector_ahead(look.vector, none);
    snapshot_pack_head(head, &look);
    g_array_unref(look.vector);
    snapshot_out_begin(&out, path, head);
    if (engine_exec(tx, "BEGIN")) write_all(tx, &out);
    tx->driver->calls->roll_back(tx->driver);
    bool ours = out.file >= 0;
    char *problem = snapshot_out_end(&out, made->digest);
    made->bytes = out.length;
    if (problem == NULL && tx->bad != STORE_OK) problem = g_strdup(tx->problem);
    if (problem != NULL && ours) g_unlink(path);
    return problem;
}

char *snapshot_make(const char *copy, const char *path, SnapshotMade *made)
{
    Tx *tx = NULL;
    char *why = NULL;

    if (store_read_open(copy, &tx, &why) != OPEN_OK) return why;
    char *problem = make(tx, path, made);
    g_free(store_read_close(tx));
    return problem;
}
