/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/store/copy_out.h"

#include <errno.h>
#include <fcntl.h>
#include <glib/gstdio.h>
#include <unistd.h>

#include "adapters/store/sqlite.h"
#include "adapters/store/transfer.h"

typedef struct {
    Copy copy;
    Tx *from;
    char *path;
    char *problem;
    bool made; /* the file is ours */
} CopyOut;

static void fail(CopyOut *copy, const char *what, const char *why)
{
    if (copy->problem == NULL) copy->problem = g_strdup_printf("%s: %s", what, why);
}

/* The file is synced at its end, once. */
static Tx *make_store(CopyOut *copy)
{
    sqlite3 *db = NULL;
    int file = open(copy->path, O_CREAT | O_EXCL | O_RDWR | O_CLOEXEC | O_NOFOLLOW, 0600);

    if (file < 0) {
        fail(copy, "cannot make it", g_strerror(errno));
        return NULL;
    }
    close(file);
    copy->made = true;
    if (sqlite3_open_v2(copy->path, &db, SQLITE_OPEN_READWRITE | SQLITE_OPEN_NOMUTEX, NULL) !=
            SQLITE_OK ||
        sqlite3_extended_result_codes(db, 1) != SQLITE_OK ||
        sqlite3_exec(db, "PRAGMA page_size = 4096; PRAGMA synchronous = OFF", NULL, NULL, NULL) !=
            SQLITE_OK) {
        fail(copy, "cannot open it", sqlite3_errmsg(db));
        sqlite3_close(db);
        return NULL;
    }
    return engine_new(sqlite_driver_new(db));
}

static bool step(Copy *self, int pages)
{
    CopyOut *copy = (CopyOut *)self;
    Tx *into = make_store(copy);

    (void)pages;
    if (into == NULL) return false;
    copy->from->bad = STORE_OK;
    if (!transfer_all(copy->from, into))
        fail(copy, "cannot be written",
             copy->from->bad != STORE_OK ? copy->from->problem
             : into->bad == STORE_FULL   ? "no room left on its device"
                                         : into->problem);
    engine_free(into);
    return false;
}

static char *end(Copy *self)
{
    CopyOut *copy = (CopyOut *)self;

    if (copy->problem == NULL && !copy_sync(copy->path))
        fail(copy, "cannot be synced", g_strerror(errno));
    if (copy->problem != NULL && copy->made) g_unlink(copy->path);
    char *problem = g_steal_pointer(&copy->problem);
    g_free(copy->path);
    g_free(copy);
    return problem;
}

Copy *copy_out_begin(Tx *from, const char *path)
{
    CopyOut *copy = g_new0(CopyOut, 1);

    copy->copy = (Copy){.step = step, .end = end};
    copy->from = from;
    copy->path = g_strdup(path);
    return &copy->copy;
}
