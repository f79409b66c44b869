/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/store/copy.h"

#include <errno.h>
#include <fcntl.h>
#include <glib.h>
#include <glib/gstdio.h>
#include <unistd.h>

typedef struct {
    Copy copy;
    sqlite3 *from;
    sqlite3 *to;
    sqlite3_backup *backup;
    char *path;
    char *problem;
    bool made; /* the file is ours */
} FileCopy;

static void fail(FileCopy *copy, const char *what, const char *why)
{
    if (copy->problem == NULL) copy->problem = g_strdup_printf("%s: %s", what, why);
}

static bool make_file(FileCopy *copy)
{
    int file = open(copy->path, O_CREAT | O_EXCL | O_RDWR | O_CLOEXEC | O_NOFOLLOW, 0600);

    if (file < 0) {
        fail(copy, "cannot make it", g_strerror(errno));
        return false;
    }
    close(file);
    copy->made = true;
    return true;
}

static bool step(Copy *self, int pages);
static char *end(Copy *self);

Copy *copy_begin(sqlite3 *from, const char *path)
{
    FileCopy *copy = g_new0(FileCopy, 1);

    copy->copy = (Copy){.step = step, .end = end};
    copy->from = from;
    copy->path = g_strdup(path);
    if (!make_file(copy)) return &copy->copy;
    if (sqlite3_open_v2(path, &copy->to, SQLITE_OPEN_READWRITE | SQLITE_OPEN_NOMUTEX, NULL) !=
        SQLITE_OK) {
        fail(copy, "cannot open it", sqlite3_errmsg(copy->to));
        return &copy->copy;
    }
    copy->backup = sqlite3_backup_init(copy->to, "main", from, "main");
    if (copy->backup == NULL) fail(copy, "cannot begin it", sqlite3_errmsg(copy->to));
    return &copy->copy;
}

static bool step(Copy *self, int pages)
{
    FileCopy *copy = (FileCopy *)self;

    g_assert(sqlite3_get_autocommit(copy->from));
    if (copy->problem != NULL) return false;
    int code = sqlite3_backup_step(copy->backup, pages);
    if (code == SQLITE_OK) return true;
    if (code != SQLITE_DONE)
        fail(copy, "cannot be written",
             code == SQLITE_FULL ? "no room left on its device" : sqlite3_errstr(code));
    return false;
}

/* The file, then the folder that names it. */
static bool sync_path(const char *path, int flags)
{
    int file = open(path, flags | O_CLOEXEC);

    if (file < 0) return false;
    bool synced = fsync(file) == 0;
    int error = errno;
    close(file);
    errno = error;
    return synced;
}

bool copy_sync(const char *path)
{
    g_autofree char *folder = g_path_get_dirname(path);

    return sync_path(path, O_RDONLY) && sync_path(folder, O_RDONLY | O_DIRECTORY);
}

static char *end(Copy *self)
{
    FileCopy *copy = (FileCopy *)self;

    if (copy->backup != NULL && sqlite3_backup_finish(copy->backup) != SQLITE_OK)
        fail(copy, "cannot be finished", sqlite3_errmsg(copy->to));
    sqlite3_close(copy->to);
    if (copy->problem == NULL && !copy_sync(copy->path))
        fail(copy, "cannot be synced", g_strerror(errno));
    if (copy->problem != NULL && copy->made) g_unlink(copy->path);
    char *problem = g_steal_pointer(&copy->problem);
    g_free(copy->path);
    g_free(copy);
    return problem;
}
