/* SPDX-License-Identifier: Apache-2.0 */
/* Pictures within an HTML mail: in a page they stand as data: URIs (RFC 2397), in a mail as parts of
 * their own that the page names by Content-ID (RFC 2392), for many mail programs show no other. */
#ifndef OSIER_ADAPTERS_MAIL_IMAGES_H
#define OSIER_ADAPTERS_MAIL_IMAGES_H

#include <gmime/gmime.h>

/* The page with every data: PNG put into parts (GMimePart, to be unreferenced) and named there by
 * cid: "N.ID" (g_free). What is no whole base64 stays where it is. */
char *images_take(const char *html, const char *id, GPtrArray *parts);

/* The page of a mail with its pictures back as data: URIs (g_free), to be kept as a file; NULL where
 * the mail has no page. mail_start comes first. */
char *mail_page(GBytes *mail);

#endif
