/* SPDX-License-Identifier: Apache-2.0 */
/* Folders for tests that need real files. */
#ifndef OSIER_TESTS_SUPPORT_FOLDER_H
#define OSIER_TESTS_SUPPORT_FOLDER_H

#include <glib.h>
#include <sys/types.h>

/* A new, empty folder of its own, mode 0700; the caller frees the path. */
char *folder_new(void);

/* Makes a folder below, mode 0700. */
void folder_room(const char *folder, const char *name);

/* Writes (or replaces) a file below; length -1: up to the NUL. */
void folder_write(const char *folder, const char *name, const char *text, gssize length,
                  mode_t mode);

/* Removes the folder and all in it, and frees the path. */
void folder_remove(char *folder);

#endif
