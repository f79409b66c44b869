/* SPDX-License-Identifier: Apache-2.0 */
/* Words that must be nowhere: every file under a folder is read and searched for them. */
#ifndef OSIER_TESTS_SUPPORT_PLANTED_H
#define OSIER_TESTS_SUPPORT_PLANTED_H

#include <glib.h>

/* The first file, and the manner, in which one of the words (NULL-ended) is found as it stands, in base64 at any alignment,
 * or in UTF-16 of either order (g_free); NULL where none is. */
char *planted_find(const char *folder, const char *const *words);

#endif
