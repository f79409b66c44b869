/* SPDX-License-Identifier: Apache-2.0 */
/* Statements of SQLite, and every error of SQLite turned into what follows from it. */
#include "adapters/store/sqlite.h"

#include <errno.h>
#include <sys/stat.h>
#include <unistd.h>

static const Dialect DIALECT = {
    .name = "SQLite",
    .begin = "BEGIN IMMEDIATE",
    .mark = "PRAGMA application_id = " G_STRINGIFY(APPLICATION_ID),
    .look_over = "PRAGMA integrity_check(20)",
    .types = {[COLUMN_TEXT] = "TEXT", [COLUMN_INTEGER] = "INTEGER", [COLUMN_REAL] = "REAL"},
    .bytes = "BLOB",
    .short_rows = "STRICT, WITHOUT ROWID",
    .long_rows = "STRICT",
    .long_rows_column = "",
    .index_order = "",
    .no_salt = "zeroblob(16)",
};

typedef struct {
    Driver driver;
    sqlite3 *db;
    int wal_frames;
} Sqlite;

typedef struct {
    Statement statement;
    Sqlite *sqlite;
    sqlite3_stmt *handle;
} SqliteStatement;

static sqlite3_stmt *handle_of(Statement *statement)
{
    return ((SqliteStatement *)statement)->handle;
}

/* --- arguments and columns --- */

static void bind_null(Statement *statement, int at, ValueType type)
{
    (void)type;
    sqlite3_bind_null(handle_of(statement), at);
}

static void bind_text(Statement *statement, int at, const char *text)
{
    sqlite3_bind_text(handle_of(statement), at, text, -1, SQLITE_STATIC);
}

static void bind_int(Statement *statement, int at, int64_t value)
{
    sqlite3_bind_int64(handle_of(statement), at, value);
}

static void bind_real(Statement *statement, int at, double value)
{
    sqlite3_bind_double(handle_of(statement), at, value);
}

static void bind_bytes(Statement *statement, int at, const uint8_t *bytes, int length)
{
    sqlite3_bind_blob(handle_of(statement), at, bytes, length, SQLITE_STATIC);
}

static int columns(Statement *statement)
{
    return sqlite3_column_count(handle_of(statement));
}

static ValueType type(Statement *statement, int column)
{
    switch (sqlite3_column_type(handle_of(statement), column)) {
    case SQLITE_NULL: return VALUE_NULL;
    case SQLITE_INTEGER: return VALUE_INTEGER;
    case SQLITE_FLOAT: return VALUE_REAL;
    case SQLITE_BLOB: return VALUE_BYTES;
    default: return VALUE_TEXT;
    }
}

static const char *text(Statement *statement, int column)
{
    return (const char *)sqlite3_column_text(handle_of(statement), column);
}

static int64_t integer(Statement *statement, int column)
{
    return sqlite3_column_int64(handle_of(statement), column);
}

static double real(Statement *statement, int column)
{
    return sqlite3_column_double(handle_of(statement), column);
}

static const uint8_t *bytes(Statement *statement, int column, int *length)
{
    const uint8_t *from = sqlite3_column_blob(handle_of(statement), column);

    *length = sqlite3_column_bytes(handle_of(statement), column);
    return from;
}

/* --- running --- */

static Step step(Statement *statement)
{
    switch (sqlite3_step(handle_of(statement))) {
    case SQLITE_ROW: return STEP_ROW;
    case SQLITE_DONE: return STEP_DONE;
    default: return STEP_ERROR;
    }
}

static int changes(Statement *statement)
{
    return sqlite3_changes(((SqliteStatement *)statement)->sqlite->db);
}

static bool is_busy(Statement *statement)
{
    return sqlite3_stmt_busy(handle_of(statement)) != 0;
}

static void reset(Statement *statement)
{
    sqlite3_reset(handle_of(statement));
}

static void clear(Statement *statement)
{
    sqlite3_reset(handle_of(statement));
    sqlite3_clear_bindings(handle_of(statement));
}

static void free_statement(Statement *statement)
{
    sqlite3_finalize(handle_of(statement));
    g_free(statement);
}

static Statement *twin(Statement *statement);

static const StatementCalls STATEMENT_CALLS = {
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
    .quiet = step,
    .changes = changes,
    .is_busy = is_busy,
    .twin = twin,
    .reset = reset,
    .clear = clear,
    .free = free_statement,
};

static Statement *compile(Sqlite *sqlite, const char *sql, unsigned flags)
{
    sqlite3_stmt *handle = NULL;
    int code = sqlite3_prepare_v3(sqlite->db, sql, -1, flags, &handle, NULL);

    if (code == SQLITE_ERROR) g_error("store: %s: %s", sqlite3_errmsg(sqlite->db), sql);
    if (code != SQLITE_OK) return NULL;
    SqliteStatement *statement = g_new(SqliteStatement, 1);
    *statement = (SqliteStatement){
        .statement = {.calls = &STATEMENT_CALLS}, .sqlite = sqlite, .handle = handle};
    return &statement->statement;
}

static Statement *twin(Statement *statement)
{
    return compile(((SqliteStatement *)statement)->sqlite, sqlite3_sql(handle_of(statement)), 0);
}

/* --- the connection --- */

static Statement *prepare(Driver *driver, const char *sql)
{
    return compile((Sqlite *)driver, sql, SQLITE_PREPARE_PERSISTENT);
}

/* No room is a state that passes. A device that failed to write or sync has lied once: what SQLite
 * says after that is not to be believed (it reports the next commit as fine), so it stays failed. */
static bool is_no_room(sqlite3 *db, int code)
{
    if ((code & 0xff) == SQLITE_FULL) return true;
    if (code != SQLITE_IOERR_WRITE && code != SQLITE_IOERR_TRUNCATE) return false;
    int error = sqlite3_system_errno(db);
    return error == EDQUOT || error == ENOSPC;
}

static StoreStatus error(Driver *driver, char **problem)
{
    sqlite3 *db = sqlite_of(driver);
    int code = sqlite3_extended_errcode(db);

    if (is_no_room(db, code)) {
        *problem =
            g_strdup_printf("no room left on the device of the store (%s)", sqlite3_errmsg(db));
        return STORE_FULL;
    }
    *problem = g_strdup_printf("the store failed: %s (SQLite %d): nothing more is written",
                               sqlite3_errmsg(db), code);
    return STORE_FAILED;
}

/* SQLite has rolled back by itself after some errors. Its answer changes nothing for us. */
static void roll_back(Driver *driver)
{
    sqlite3 *db = sqlite_of(driver);

    if (!sqlite3_get_autocommit(db)) sqlite3_exec(db, "ROLLBACK", NULL, NULL, NULL);
}

static bool has_column(Driver *driver, const char *table, const char *column)
{
    return sqlite3_table_column_metadata(sqlite_of(driver), "main", table, column, NULL, NULL, NULL,
                                         NULL, NULL) == SQLITE_OK;
}

/* Whether SQLite finds a place for such a file shows when it wants one: not having one would look like a failed device. */
static bool has_place(void)
{
    const char *const places[] = {g_getenv("SQLITE_TMPDIR"), g_getenv("TMPDIR"), "/var/tmp",
                                  "/usr/tmp", "/tmp"};

    for (size_t i = 0; i < G_N_ELEMENTS(places); i++)
        if (places[i] != NULL && access(places[i], W_OK | X_OK) == 0) return true;
    return false;
}

static void spill(Driver *driver, bool may)
{
    sqlite3_exec(sqlite_of(driver),
                 may && has_place() ? "PRAGMA temp_store = FILE" : "PRAGMA temp_store = MEMORY",
                 NULL, NULL, NULL);
}

static void close_driver(Driver *driver)
{
    sqlite3_close(sqlite_of(driver));
    g_free(driver);
}

static int keep_frames(void *context, sqlite3 *db, const char *name, int frames)
{
    Sqlite *sqlite = context;

    (void)db;
    (void)name;
    sqlite->wal_frames = frames;
    return SQLITE_OK;
}

/* Is all in the file itself, and nothing in the log beside it? */
static bool is_settled(const char *path)
{
    g_autofree char *log = g_strconcat(path, "-wal", NULL);
    struct stat about;

    return stat(log, &about) != 0 ? errno == ENOENT : about.st_size == 0;
}

/* The first connection holds the lock, and a second takes none: "immutable" says that nobody writes. SQLite counts the files that
 * one process has open, so that closing the second does not let go of the first one's lock. */
static Driver *second(Driver *driver)
{
    const char *path = sqlite3_db_filename(sqlite_of(driver), "main");
    sqlite3_vfs *vfs = NULL;
    sqlite3 *db = NULL;

    if (path == NULL || *path == '\0' || !is_settled(path)) return NULL;
    sqlite3_file_control(sqlite_of(driver), "main", SQLITE_FCNTL_VFS_POINTER, &vfs);
    g_autofree char *name = g_filename_to_uri(path, NULL, NULL);
    g_autofree char *uri = g_strconcat(name, "?immutable=1", NULL);
    int flags = SQLITE_OPEN_READONLY | SQLITE_OPEN_URI | SQLITE_OPEN_NOMUTEX | SQLITE_OPEN_NOFOLLOW;
    if (sqlite3_open_v2(uri, &db, flags, vfs->zName) == SQLITE_OK &&
        sqlite3_exec(db, "PRAGMA cell_size_check = ON; PRAGMA cache_size = -20000", NULL, NULL,
                     NULL) == SQLITE_OK) {
        sqlite3_extended_result_codes(db, 1);
        return sqlite_driver_new(db);
    }
    sqlite3_close(db);
    return NULL;
}

Driver *sqlite_driver_new(sqlite3 *db)
{
    static const DriverCalls CALLS = {.prepare = prepare,
                                      .walk = prepare,
                                      .error = error,
                                      .roll_back = roll_back,
                                      .has_column = has_column,
                                      .twin = second,
                                      .spill = spill,
                                      .close = close_driver};
    Sqlite *sqlite = g_new0(Sqlite, 1);

    *sqlite = (Sqlite){.driver = {.calls = &CALLS, .dialect = &DIALECT}, .db = db};
    sqlite3_wal_hook(db, keep_frames, sqlite);
    return &sqlite->driver;
}

sqlite3 *sqlite_of(Driver *driver)
{
    return ((Sqlite *)driver)->db;
}

int sqlite_wal_frames(const Driver *driver)
{
    return ((const Sqlite *)driver)->wal_frames;
}

int sqlite_checkpoint(Driver *driver, int how)
{
    ((Sqlite *)driver)->wal_frames = 0;
    return sqlite3_wal_checkpoint_v2(sqlite_of(driver), NULL, how, NULL, NULL);
}
