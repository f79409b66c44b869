/* SPDX-License-Identifier: Apache-2.0 */
/* What a gateway writes, JSON or a form, as one JSON value that JSON Pointers reach into. */
#ifndef OSIER_ADAPTERS_SMS_DOCUMENT_H
#define OSIER_ADAPTERS_SMS_DOCUMENT_H

#include <glib.h>
#include <jansson.h>
#include <stdbool.h>
#include <stdint.h>

typedef struct {
    json_t *root; /* NULL where it could not be read */
    bool mended;  /* bytes that are no UTF-8 were replaced by U+FFFD */
    char *why;    /* why root is NULL: valid UTF-8, whatever it quotes */
} Document;

/* Reads a body by its content type; where that says neither JSON nor form (or is NULL), by its
 * first character. A brace or a bracket first is JSON whatever the type says: a form would have
 * escaped it, and many a program calls whatever it posts a form. A form becomes an object of texts.
 * Repeated keys are refused. */
void document_read(Document *document, const char *content_type, const void *body, size_t length);
void document_clear(Document *document);
G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(Document, document_clear)

/* What a JSON Pointer (RFC 6901) leads to, lent; NULL where it leads nowhere or the pointer is
 * NULL. */
json_t *document_find(json_t *root, const char *pointer);

/* A text or number as text with NULs replaced by U+FFFD, the caller's to g_free; NULL for anything
 * else. */
char *document_text(json_t *value);

/* The instant of RFC 3339 text, or of seconds or milliseconds since 1970 as a number or digits; -1
 * where it is none, or before 1970. */
int64_t document_instant(json_t *value);

/* A value as JSON, or a body as text, cut to 64 kB of valid UTF-8 without NULs. The caller frees.
 */
char *document_raw_value(json_t *value);
char *document_raw_body(const void *body, size_t length);

#endif
