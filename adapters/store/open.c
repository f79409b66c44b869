/* SPDX-License-Identifier: Apache-2.0 */
/* SQLite 3.40 has two habits that osier works around here. It may lose commits when two connections
 * checkpoint at one instant (fixed in 3.51.3): exclusive locking before the log is first touched
 * makes a second connection impossible. And it does not tell of a failed sync of the folder, nor of
 * one in an automatic checkpoint: osier does both itself. */
#include "adapters/store/open.h"

#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <sys/stat.h>
#include <unistd.h>

#include "adapters/store/open_part.h"
#include "adapters/store/sqlite.h"

static OpenResult refuse_errno(OpenRequest *request, char **why, const char *what)
{
    g_autofree char *reason = g_strdup_printf("%s: %s", what, g_strerror(errno));

    return open_refuse(OPEN_CANNOT, request, why, reason);
}

/* The folder with its links resolved, and the name in it: SQLite refuses links anywhere in a path,
 * and only one to the file itself is odd. NULL where there is no such folder. */
static char *resolve(const char *path)
{
    g_autofree char *folder = g_path_get_dirname(path);
    g_autofree char *name = g_path_get_basename(path);
    char real[PATH_MAX];

    return realpath(folder, real) != NULL ? g_build_filename(real, name, NULL) : NULL;
}

/* Is there a plain file, or room for a new one? A new one is made here, readable by its owner
 * alone. */
static OpenResult find_file(OpenRequest *request, const char *path, char **why)
{
    struct stat about;

    if (lstat(path, &about) == 0) {
        if (!S_ISREG(about.st_mode))
            return open_refuse(OPEN_NO_STORE, request, why, "not a store: not a plain file");
        return OPEN_OK;
    }
    if (errno != ENOENT) return refuse_errno(request, why, "cannot look at it");
    if (!request->make) return open_refuse(OPEN_NO_STORE, request, why, "no store there");
    int file = open(path, O_CREAT | O_EXCL | O_RDWR | O_CLOEXEC | O_NOFOLLOW, 0600);
    if (file < 0) return refuse_errno(request, why, "cannot make it");
    close(file);
    return OPEN_OK;
}

static bool sync_folder(const char *path)
{
    g_autofree char *folder = g_path_get_dirname(path);
    int file = open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);

    if (file < 0) return false;
    bool synced = fsync(file) == 0;
    int error = errno;
    close(file);
    errno = error;
    return synced;
}

static OpenResult refuse_sqlite(OpenRequest *request, sqlite3 *db, char **why)
{
    int code = sqlite3_extended_errcode(db);
    g_autofree char *cannot = g_strdup_printf("cannot open it: %s", sqlite3_errmsg(db));

    switch (code & 0xff) {
    case SQLITE_BUSY:
    case SQLITE_LOCKED:
        return open_refuse(OPEN_IN_USE, request, why, "in use: another process holds the store");
    case SQLITE_NOTADB:
        return open_refuse(OPEN_NO_STORE, request, why, "not a store: no SQLite database");
    case SQLITE_CORRUPT: return open_refuse_damaged(request, why, sqlite3_errmsg(db));
    default: return open_refuse(OPEN_CANNOT, request, why, cannot);
    }
}

static bool run(sqlite3 *db, const char *const *statements)
{
    for (size_t i = 0; statements[i] != NULL; i++)
        if (sqlite3_exec(db, statements[i], NULL, NULL, NULL) != SQLITE_OK) return false;
    return true;
}

/* The lock is taken before anything is read and kept until the end. */
static bool take_lock(sqlite3 *db)
{
    static const char *const LOCK[] = {
        "PRAGMA locking_mode = EXCLUSIVE",
        "PRAGMA page_size = 4096",
        "PRAGMA mmap_size = 0",
        "PRAGMA trusted_schema = OFF",
        "BEGIN EXCLUSIVE",
        "COMMIT",
        NULL,
    };
    return run(db, LOCK);
}

/* A number that a statement gives; -1 where it fails. */
static int64_t number_of(sqlite3 *db, const char *sql)
{
    sqlite3_stmt *statement = NULL;
    int64_t number = -1;

    if (sqlite3_prepare_v2(db, sql, -1, &statement, NULL) == SQLITE_OK &&
        sqlite3_step(statement) == SQLITE_ROW)
        number = sqlite3_column_int64(statement, 0);
    sqlite3_finalize(statement);
    return number;
}

static bool set_up(sqlite3 *db)
{
    static const char *const SET_UP[] = {
        "PRAGMA journal_mode = WAL",
        "PRAGMA synchronous = FULL",
        "PRAGMA secure_delete = ON",
        "PRAGMA cell_size_check = ON",
        "PRAGMA cache_size = -20000",
        "PRAGMA temp_store = MEMORY",
        "PRAGMA wal_autocheckpoint = 0",
        "PRAGMA journal_size_limit = 16777216",
        NULL,
    };
    return run(db, SET_UP) && number_of(db, "PRAGMA synchronous") == 2 &&
           number_of(db, "SELECT journal_mode = 'wal' FROM pragma_journal_mode") == 1;
}

/* A connection whose lock is held and whose pragmas are set, to a file that is empty or one of
 * ours. */
static OpenResult connect_to(OpenRequest *request, const char *path, sqlite3 **db, bool *empty,
                             char **why)
{
    int flags = SQLITE_OPEN_READWRITE | SQLITE_OPEN_NOFOLLOW | SQLITE_OPEN_NOMUTEX;

    /* Counting what SQLite has in memory takes a lock for each piece. Refused once SQLite runs, which does no harm. */
    sqlite3_config(SQLITE_CONFIG_MEMSTATUS, 0);
    if (sqlite3_open_v2(path, db, flags, NULL) != SQLITE_OK)
        return refuse_sqlite(request, *db, why);
    sqlite3_extended_result_codes(*db, 1);
    if (sqlite3_db_readonly(*db, "main") == 1)
        return open_refuse(OPEN_CANNOT, request, why, "cannot write to it");
    if (!take_lock(*db)) return refuse_sqlite(request, *db, why);
    int64_t tables = number_of(*db, "SELECT count(*) FROM sqlite_master");
    if (tables < 0) return refuse_sqlite(request, *db, why);
    *empty = tables == 0;
    if (!*empty && number_of(*db, "PRAGMA application_id") != APPLICATION_ID)
        return open_refuse(OPEN_NO_STORE, request, why,
                           "not a store: a database of something else");
    return set_up(*db) ? OPEN_OK : refuse_sqlite(request, *db, why);
}

OpenResult open_store_file(OpenRequest *request, Tx **tx, char **why)
{
    g_autofree char *path = resolve(request->path);
    sqlite3 *db = NULL;
    bool empty = false;

    *tx = NULL;
    *why = NULL;
    if (path == NULL)
        return request->make ? refuse_errno(request, why, "its folder")
                             : open_refuse(OPEN_NO_STORE, request, why, "no store there");
    OpenResult result = find_file(request, path, why);
    if (result != OPEN_OK) return result;
    result = connect_to(request, path, &db, &empty, why);
    if (result != OPEN_OK) {
        sqlite3_close(db);
        return result;
    }
    Tx *opened = engine_new(sqlite_driver_new(db));
    result = empty ? open_born(request, opened, "not a store: it is empty", why)
                   : open_loaded(request, opened, why);
    if (result == OPEN_OK && !sync_folder(path))
        result = refuse_errno(request, why, "its folder cannot be synced");
    if (result == OPEN_OK)
        *tx = opened;
    else
        engine_free(opened);
    return result;
}

bool open_checkpoint(Tx *tx, int how)
{
    if (sqlite_checkpoint(tx->driver, how) == SQLITE_OK) return true;
    tx->bad = STORE_OK;
    engine_error(tx);
    return false;
}

void open_close(Tx *tx)
{
    if (tx->failed || !open_checkpoint(tx, SQLITE_CHECKPOINT_TRUNCATE))
        sqlite3_db_config(sqlite_of(tx->driver), SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, 1, NULL);
    engine_free(tx);
}

OpenRequest open_request(const StorePlace *place)
{
    /* checking: whatever its mode */
    return (OpenRequest){.path = place->file, .place = place->schema, .checking = true};
}

OpenResult open_store(OpenRequest *request, Tx **tx, char **why)
{
    return request->place != NULL ? open_schema(request, tx, why)
                                  : open_store_file(request, tx, why);
}

void open_end(const OpenRequest *request, Tx *tx)
{
    if (request->place != NULL)
        engine_free(tx);
    else
        open_close(tx);
}
