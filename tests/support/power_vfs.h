/* SPDX-License-Identifier: Apache-2.0 */
/* A file system for SQLite from which the power goes. What was written and not synced since is then, sector by sector, there,
 * not there, or torn, as the seed wills; so are new sizes, new names and deletions. A program that links this has its fsync, so
 * that syncs beside SQLite's, of files and folders, count as well. */
#ifndef OSIER_TESTS_SUPPORT_POWER_VFS_H
#define OSIER_TESTS_SUPPORT_POWER_VFS_H

#include <stdbool.h>
#include <stdint.h>

/* Becomes the default for every database opened from now on. Syncs are only noted: nothing waits for a device. */
void power_vfs_install(void);

/* The power goes at the operation (write, sync, truncation, deletion) of that number from now; 0: never. From then on every
 * operation fails. No database may be open. */
void power_vfs_begin(uint32_t seed, int at_operation);

/* Operations since the beginning, and whether the power has gone. */
int power_vfs_operations(void);
bool power_vfs_is_gone(void);

/* The power is back: the files hold what the device kept. No database may be open. */
void power_vfs_restore(void);

#endif
