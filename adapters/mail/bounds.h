/* SPDX-License-Identifier: Apache-2.0 */
/* Cuts a mail down to what a parser can be trusted with, before one sees it: GMime 3.2.13 takes a minute over one long header
 * of half an encoded word, and its stack over one of nested address groups. No person's mail comes near these bounds, and
 * what was cut goes to a person. Private to this folder. */
#ifndef OSIER_ADAPTERS_MAIL_BOUNDS_H
#define OSIER_ADAPTERS_MAIL_BOUNDS_H

#include <glib.h>
#include <stdbool.h>

enum {
    BOUNDS_DELIMITERS = 1000,       /* lines that may begin a part (RFC 2046 5.1.1) */
    BOUNDS_FIELDS = 1000,           /* header fields between two blank lines */
    BOUNDS_FIELD_BYTES = 16 * 1024, /* of one field with its folded lines */
    BOUNDS_FIELD_BYTES_SHORT = 256  /* where a mail has had several of the longest */
};

typedef struct {
    bool parts;  /* what came behind the last delimiter allowed is gone */
    bool fields; /* fields, or ends of fields, are gone */
} MailCut;

/* The mail within the bounds (g_bytes_unref). Where a part or an enclosed mail begins is known to the parser alone, so every
 * line that could be a delimiter or a field counts as one. Linear in time. */
GBytes *mail_bounded(GBytes *mail, MailCut *cut);

#endif
