/* SPDX-License-Identifier: Apache-2.0 */
/* Real files play the page cache: they hold what was written. Beside each stands what the device surely has, as of its last
 * sync, and which sectors were written since. */
#include "tests/support/power_vfs.h"

#include <errno.h>
#include <glib.h>
#include <glib/gstdio.h>
#include <sqlite3.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#define SECTOR 512

typedef struct {
    char *path;
    GByteArray *kept;  /* as of the last sync */
    bool name_kept;    /* the device knows the name */
    bool deleted;      /* since, and the device may not know it */
    GHashTable *dirty; /* sector numbers written since the last sync */
} Shadow;

typedef struct {
    sqlite3_file base;
    sqlite3_file *real; /* follows in the same memory */
    Shadow *shadow;     /* NULL for a scratch file without a name */
} File;

/* SQLite's file systems are process-wide, so is this one's state. */
static struct {
    GMutex mutex;
    sqlite3_vfs *real;
    GHashTable *shadows; /* path -> Shadow */
    GRand *random;
    int operations;
    int at;
    bool gone;
} power;

static void shadow_free(void *data)
{
    Shadow *shadow = data;

    g_free(shadow->path);
    g_byte_array_unref(shadow->kept);
    g_hash_table_unref(shadow->dirty);
    g_free(shadow);
}

static GByteArray *file_bytes(const char *path)
{
    char *text = NULL;
    gsize length = 0;

    if (!g_file_get_contents(path, &text, &length, NULL)) return g_byte_array_new();
    return g_byte_array_new_take((guint8 *)text, length);
}

/* What is known of a file; one that is there when first seen is on the device. */
static Shadow *shadow_of(const char *path)
{
    Shadow *shadow = g_hash_table_lookup(power.shadows, path);

    if (shadow != NULL) return shadow;
    shadow = g_new0(Shadow, 1);
    shadow->path = g_strdup(path);
    shadow->kept = file_bytes(path);
    /* An empty one was made a moment ago. */
    shadow->name_kept = shadow->kept->len > 0;
    shadow->dirty = g_hash_table_new(NULL, NULL);
    g_hash_table_insert(power.shadows, shadow->path, shadow);
    return shadow;
}

/* Counts an operation. False once the power is gone. */
static bool has_power(void)
{
    if (!power.gone && ++power.operations == power.at) power.gone = true;
    return !power.gone;
}

static sqlite3_file *real_file(sqlite3_file *file)
{
    return ((File *)file)->real;
}

/* --- operations --- */

static int do_close(sqlite3_file *file)
{
    return real_file(file)->pMethods->xClose(real_file(file));
}

static int do_read(sqlite3_file *file, void *to, int bytes, sqlite3_int64 at)
{
    return real_file(file)->pMethods->xRead(real_file(file), to, bytes, at);
}

static void note_dirty(Shadow *shadow, sqlite3_int64 at, int bytes)
{
    if (shadow == NULL) return;
    for (sqlite3_int64 sector = at / SECTOR; sector <= (at + bytes - 1) / SECTOR; sector++)
        g_hash_table_add(shadow->dirty, GINT_TO_POINTER((int)sector));
}

/* The write at which the power goes is under way: it may be there in part. */
static int do_write(sqlite3_file *file, const void *from, int bytes, sqlite3_int64 at)
{
    g_mutex_lock(&power.mutex);
    bool was_gone = power.gone;
    bool has = has_power();
    if (!was_gone) note_dirty(((File *)file)->shadow, at, bytes);
    g_mutex_unlock(&power.mutex);
    if (was_gone) return SQLITE_IOERR_WRITE;
    int code = real_file(file)->pMethods->xWrite(real_file(file), from, bytes, at);
    return has ? code : SQLITE_IOERR_WRITE;
}

static int do_truncate(sqlite3_file *file, sqlite3_int64 size)
{
    g_mutex_lock(&power.mutex);
    bool has = has_power();
    g_mutex_unlock(&power.mutex);
    if (!has) return SQLITE_IOERR_TRUNCATE;
    return real_file(file)->pMethods->xTruncate(real_file(file), size);
}

static void keep_bytes(Shadow *shadow)
{
    g_byte_array_unref(shadow->kept);
    shadow->kept = file_bytes(shadow->path);
    g_hash_table_remove_all(shadow->dirty);
}

static int do_sync(sqlite3_file *file, int flags)
{
    Shadow *shadow = ((File *)file)->shadow;

    (void)flags;
    g_mutex_lock(&power.mutex);
    bool has = has_power();
    if (has && shadow != NULL) {
        keep_bytes(shadow);
        /* SQLite syncs the folder with the first sync of a file that it made (os_unix.c, UNIXFILE_DIRSYNC). */
        shadow->name_kept = true;
    }
    g_mutex_unlock(&power.mutex);
    return has ? SQLITE_OK : SQLITE_IOERR_FSYNC;
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

/* SQLite's hints may change sizes; they are not needed. */
static int do_control(sqlite3_file *file, int op, void *argument)
{
    if (op == SQLITE_FCNTL_SIZE_HINT || op == SQLITE_FCNTL_CHUNK_SIZE) return SQLITE_OK;
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

/* A name that was deleted is made again: another file, of which the device knows nothing. */
static void begin_anew(Shadow *shadow)
{
    shadow->deleted = shadow->name_kept = false;
    g_byte_array_set_size(shadow->kept, 0);
    g_hash_table_remove_all(shadow->dirty);
}

static int do_open(sqlite3_vfs *vfs, sqlite3_filename name, sqlite3_file *file, int flags, int *out)
{
    File *own = (File *)file;

    (void)vfs;
    own->real = (sqlite3_file *)(own + 1);
    own->base.pMethods = NULL;
    g_mutex_lock(&power.mutex);
    bool gone = power.gone;
    own->shadow = name != NULL && !gone ? shadow_of(name) : NULL;
    if (own->shadow != NULL && own->shadow->deleted) begin_anew(own->shadow);
    g_mutex_unlock(&power.mutex);
    if (gone) return SQLITE_CANTOPEN;
    int code = power.real->xOpen(power.real, name, own->real, flags, out);
    if (code == SQLITE_OK) own->base.pMethods = &METHODS;
    return code;
}

static int do_delete(sqlite3_vfs *vfs, const char *name, int sync_folder)
{
    (void)vfs;
    g_mutex_lock(&power.mutex);
    bool has = has_power();
    if (has) {
        Shadow *shadow = shadow_of(name);
        shadow->deleted = true;
        if (sync_folder) shadow->name_kept = false;
    }
    g_mutex_unlock(&power.mutex);
    return has ? power.real->xDelete(power.real, name, 0) : SQLITE_IOERR_DELETE;
}

/* --- the power --- */

void power_vfs_install(void)
{
    static sqlite3_vfs vfs;

    power.real = sqlite3_vfs_find(NULL);
    power.shadows = g_hash_table_new_full(g_str_hash, g_str_equal, NULL, shadow_free);
    vfs = *power.real;
    vfs.zName = "power";
    vfs.szOsFile = (int)sizeof(File) + power.real->szOsFile;
    vfs.xOpen = do_open;
    vfs.xDelete = do_delete;
    sqlite3_vfs_register(&vfs, 1);
}

void power_vfs_begin(uint32_t seed, int at_operation)
{
    if (power.random != NULL) g_rand_free(power.random);
    power.random = g_rand_new_with_seed(seed);
    g_hash_table_remove_all(power.shadows);
    power.operations = 0;
    power.at = at_operation;
    power.gone = false;
}

int power_vfs_operations(void)
{
    return power.operations;
}

bool power_vfs_is_gone(void)
{
    g_mutex_lock(&power.mutex);
    bool gone = power.gone;
    g_mutex_unlock(&power.mutex);
    return gone;
}

/* The device knows which names the folder holds. */
static void keep_names(const char *folder)
{
    GHashTableIter iter;
    void *value;

    g_hash_table_iter_init(&iter, power.shadows);
    while (g_hash_table_iter_next(&iter, NULL, &value)) {
        Shadow *shadow = value;
        g_autofree char *in = g_path_get_dirname(shadow->path);
        if (strcmp(in, folder) == 0) shadow->name_kept = !shadow->deleted;
    }
}

/* Stands in the place of the C library's for what calls it by this name. */
int fsync(int file)
{
    g_autofree char *link = g_strdup_printf("/proc/self/fd/%d", file);
    g_autofree char *path = g_file_read_link(link, NULL);

    if (path == NULL || power.shadows == NULL) return 0;
    g_mutex_lock(&power.mutex);
    bool has = has_power();
    if (has && g_file_test(path, G_FILE_TEST_IS_DIR))
        keep_names(path);
    else if (has)
        keep_bytes(shadow_of(path));
    g_mutex_unlock(&power.mutex);
    if (!has) errno = EIO;
    return has ? 0 : -1;
}

/* --- what is left --- */

static bool coin(void)
{
    return g_rand_int_range(power.random, 0, 2) == 0;
}

/* One sector that was written since the last sync: as it was, as it is, or a part of each. */
static void settle_sector(guint8 *old, const guint8 *fresh, gsize bytes)
{
    int fate = g_rand_int_range(power.random, 0, 10);
    gsize torn = (gsize)g_rand_int_range(power.random, 1, SECTOR);

    if (fate < 4) return;
    if (fate < 8)
        memcpy(old, fresh, bytes);
    else if (coin())
        memcpy(old, fresh, MIN(torn, bytes));
    else if (torn < bytes)
        memcpy(old + torn, fresh + torn, bytes - torn);
}

/* The bytes that the device has of a file. */
static GByteArray *settle_bytes(const Shadow *shadow)
{
    g_autoptr(GByteArray) fresh = file_bytes(shadow->path);
    guint kept = shadow->kept->len;
    guint size = coin() ? fresh->len : kept;
    GByteArray *bytes = g_byte_array_new();

    if (kept > 0) g_byte_array_append(bytes, shadow->kept->data, kept);
    g_byte_array_set_size(bytes, MAX(kept, fresh->len));
    if (bytes->len > kept) memset(bytes->data + kept, 0, bytes->len - kept);
    for (guint at = 0; at < fresh->len; at += SECTOR) {
        if (!g_hash_table_contains(shadow->dirty, GINT_TO_POINTER((int)(at / SECTOR)))) continue;
        settle_sector(bytes->data + at, fresh->data + at, MIN(SECTOR, fresh->len - at));
    }
    g_byte_array_set_size(bytes, size);
    return bytes;
}

static void settle(const Shadow *shadow)
{
    bool is_there = shadow->name_kept ? !shadow->deleted || coin() : !shadow->deleted && coin();

    if (!is_there) {
        g_unlink(shadow->path);
        return;
    }
    /* Where the deletion was lost, the device has what was last synced. */
    g_autoptr(GByteArray) bytes =
        shadow->deleted ? g_byte_array_ref(shadow->kept) : settle_bytes(shadow);
    FILE *file = fopen(shadow->path, "wb");
    bool written =
        file != NULL && (bytes->len == 0 || fwrite(bytes->data, 1, bytes->len, file) == bytes->len);
    if (!written || fclose(file) != 0) g_error("%s: %s", shadow->path, g_strerror(errno));
}

static int by_path(gconstpointer a, gconstpointer b)
{
    return strcmp(*(const char *const *)a, *(const char *const *)b);
}

void power_vfs_restore(void)
{
    g_autoptr(GPtrArray) paths = g_ptr_array_new();
    GHashTableIter iter;
    void *path;

    /* In the order of their names, so that the same seed gives the same device. */
    g_hash_table_iter_init(&iter, power.shadows);
    while (g_hash_table_iter_next(&iter, &path, NULL))
        g_ptr_array_add(paths, path);
    g_ptr_array_sort(paths, by_path);
    for (guint i = 0; power.gone && i < paths->len; i++)
        settle(g_hash_table_lookup(power.shadows, paths->pdata[i]));
    g_hash_table_remove_all(power.shadows);
    power.at = 0;
    power.gone = false;
}
