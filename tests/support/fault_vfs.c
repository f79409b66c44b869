/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/support/fault_vfs.h"

#include <glib.h>
#include <sqlite3.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <string.h>

/* SQLite's file systems are process-wide, so is this one's state. */
static atomic_int sync_faults, database_sync_faults, write_faults, write_code, syncs;
static sqlite3_vfs *real;

typedef struct {
    sqlite3_file base;
    sqlite3_file *real; /* follows in the same memory */
    bool is_database;   /* and no log or journal */
} File;

static sqlite3_file *real_file(sqlite3_file *file)
{
    return ((File *)file)->real;
}

static bool is_due(atomic_int *faults)
{
    int left = atomic_load(faults);

    while (left > 0)
        if (atomic_compare_exchange_weak(faults, &left, left - 1)) return true;
    return false;
}

static int do_close(sqlite3_file *file)
{
    return real_file(file)->pMethods->xClose(real_file(file));
}

static int do_read(sqlite3_file *file, void *to, int bytes, sqlite3_int64 at)
{
    return real_file(file)->pMethods->xRead(real_file(file), to, bytes, at);
}

static int do_write(sqlite3_file *file, const void *from, int bytes, sqlite3_int64 at)
{
    if (is_due(&write_faults)) return atomic_load(&write_code);
    return real_file(file)->pMethods->xWrite(real_file(file), from, bytes, at);
}

static int do_truncate(sqlite3_file *file, sqlite3_int64 size)
{
    return real_file(file)->pMethods->xTruncate(real_file(file), size);
}

static int do_sync(sqlite3_file *file, int flags)
{
    bool database = ((File *)file)->is_database;

    atomic_fetch_add(&syncs, 1);
    if (is_due(&sync_faults) || (database && is_due(&database_sync_faults)))
        return SQLITE_IOERR_FSYNC;
    return real_file(file)->pMethods->xSync(real_file(file), flags);
}

static int do_size(sqlite3_file *file, sqlite3_int64 *size)
{
    return real_file(file)->pMethods->xFileSize(real_file(file), size);
}

static int do_lock(sqlite3_file *file, int lock)
{
    return real_file(file)->pMethods->xLock(real_file(file), lock);
}

static int do_unlock(sqlite3_file *file, int lock)
{
    return real_file(file)->pMethods->xUnlock(real_file(file), lock);
}

static int do_check(sqlite3_file *file, int *out)
{
    return real_file(file)->pMethods->xCheckReservedLock(real_file(file), out);
}

static int do_control(sqlite3_file *file, int op, void *argument)
{
    return real_file(file)->pMethods->xFileControl(real_file(file), op, argument);
}

static int do_sector(sqlite3_file *file)
{
    return real_file(file)->pMethods->xSectorSize(real_file(file));
}

static int do_device(sqlite3_file *file)
{
    return real_file(file)->pMethods->xDeviceCharacteristics(real_file(file));
}

/* Version 1: no shared memory, which an exclusive connection does not use. */
static const sqlite3_io_methods METHODS = {
    .iVersion = 1,
    .xClose = do_close,
    .xRead = do_read,
    .xWrite = do_write,
    .xTruncate = do_truncate,
    .xSync = do_sync,
    .xFileSize = do_size,
    .xLock = do_lock,
    .xUnlock = do_unlock,
    .xCheckReservedLock = do_check,
    .xFileControl = do_control,
    .xSectorSize = do_sector,
    .xDeviceCharacteristics = do_device,
};

static int do_open(sqlite3_vfs *vfs, sqlite3_filename name, sqlite3_file *file, int flags, int *out)
{
    File *own = (File *)file;

    (void)vfs;
    own->real = (sqlite3_file *)(own + 1);
    own->base.pMethods = NULL;
    own->is_database = (flags & SQLITE_OPEN_MAIN_DB) != 0;
    int code = real->xOpen(real, name, own->real, flags, out);
    if (code == SQLITE_OK) own->base.pMethods = &METHODS;
    return code;
}

void fault_vfs_install(void)
{
    static sqlite3_vfs vfs;

    real = sqlite3_vfs_find(NULL);
    vfs = *real;
    vfs.zName = "fault";
    vfs.szOsFile = (int)sizeof(File) + real->szOsFile;
    vfs.xOpen = do_open;
    sqlite3_vfs_register(&vfs, 1);
}

void fault_vfs_fail_syncs(int count)
{
    atomic_store(&sync_faults, count);
}

void fault_vfs_fail_database_syncs(int count)
{
    atomic_store(&database_sync_faults, count);
}

void fault_vfs_fail_writes(int count, int code)
{
    atomic_store(&write_code, code);
    atomic_store(&write_faults, count);
}

int fault_vfs_take_syncs(void)
{
    return atomic_exchange(&syncs, 0);
}
