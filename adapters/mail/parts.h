/* SPDX-License-Identifier: Apache-2.0 */
/* Looks into a whole mail with GMime; no I/O. mail_start comes first. */
#ifndef OSIER_ADAPTERS_MAIL_PARTS_H
#define OSIER_ADAPTERS_MAIL_PARTS_H

#include <glib.h>

/* The first text part of a subtype ("plain", "html"), decoded, as UTF-8 with lines ended by LF
 * (g_free). NULL where there is none or the mail cannot be read. */
char *mail_part(GBytes *mail, const char *subtype);

/* A header as it was written, unfolded; "" where there is none (g_free). */
char *mail_header(GBytes *mail, const char *name);

/* What stands before the @ of the Message-ID (g_free); "" where there is none. */
char *mail_message_id(GBytes *mail);

#endif
