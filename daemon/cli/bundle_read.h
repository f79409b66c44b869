/* SPDX-License-Identifier: Apache-2.0 */
/* A bundle, once its seal is off: the line "osier bundle 1", a line with who made it and for whom, then parcels, each with its
 * length before it in four bytes, the most significant first; a length of 0; a signature under the SHA-256 of all before it. */
#ifndef OSIER_DAEMON_CLI_BUNDLE_READ_H
#define OSIER_DAEMON_CLI_BUNDLE_READ_H

#include <glib.h>
#include <jansson.h>
#include <stdio.h>

#define BUNDLE_FIRST_LINE "osier bundle 1\n"

/* Looks at all of a file: is it whole, for this replica, and signed by one that it is paired with? status: an answer of GET /sync.
 * NULL and the maker's id in from, or what is wrong (static text). */
const char *bundle_judge(FILE *file, const json_t *status, char from[17]);

/* Goes to the first parcel of a bundle that was judged. */
void bundle_first(FILE *file);

/* The next parcel (g_bytes_unref), NULL after the last. */
GBytes *bundle_next(FILE *file);

#endif
