/* SPDX-License-Identifier: Apache-2.0 */
/* Tells apart the encodings that spreadsheets save in. For this room. */
#ifndef OSIER_ADAPTERS_RECORDS_CHARSET_H
#define OSIER_ADAPTERS_RECORDS_CHARSET_H

#include <glib.h>

/* The bytes as UTF-8 without a mark (g_free) and the name of what they were, static. By the mark; else UTF-16 by its zero
 * bytes; else UTF-8 where it is valid; else Windows-1252 or Latin-1. NULL where none fits, and *why (static) says why: text
 * that is UTF-8 for the most part and broken here and there is refused rather than read as Latin-1. */
char *charset_to_utf8(const char *bytes, gsize length, const char **encoding, const char **why);

#endif
