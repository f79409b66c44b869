/* SPDX-License-Identifier: Apache-2.0 */
/* A file system for SQLite that refuses syncs and writes to order: what a failing or full device
 * does. */
#ifndef OSIER_TESTS_SUPPORT_FAULT_VFS_H
#define OSIER_TESTS_SUPPORT_FAULT_VFS_H

/* Becomes the default for every database opened from now on. */
void fault_vfs_install(void);

/* The next count syncs fail with SQLITE_IOERR_FSYNC. */
void fault_vfs_fail_syncs(int count);
/* The same for syncs of the database file alone, not of its log. */
void fault_vfs_fail_database_syncs(int count);
/* The next count writes fail with that code. */
void fault_vfs_fail_writes(int count, int code);

/* Syncs since the last call. */
int fault_vfs_take_syncs(void);

#endif
