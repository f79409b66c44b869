/* SPDX-License-Identifier: Apache-2.0 */
/* Bounded reading of the small files that people write. */
#ifndef OSIER_ADAPTERS_FILES_TEXT_H
#define OSIER_ADAPTERS_FILES_TEXT_H

#include <glib.h>

/* Reads a regular file of at most bytes_max bytes of valid UTF-8 without NULs. NULL with one line
 * FILE:LINE:COL: VALUE: WHY added to messages (of char *) otherwise. length may be NULL. The caller frees. */
char *text_load(const char *path, size_t bytes_max, size_t *length, GPtrArray *messages);

/* The paths of a folder's files with the suffix, sorted by name; an absent folder has none. Names with a leading dot are
 * passed over. Freed with g_ptr_array_unref. */
GPtrArray *text_list(const char *folder, const char *suffix);

#endif
