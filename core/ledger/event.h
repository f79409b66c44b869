/* SPDX-License-Identifier: Apache-2.0 */
/* An entry of the ledger: the append-only record that everything shared is derived from. */
#ifndef OSIER_CORE_LEDGER_EVENT_H
#define OSIER_CORE_LEDGER_EVENT_H

#include <glib.h>
#include <jansson.h>
#include <stdbool.h>
#include <stdint.h>

#define DIGEST_BYTES 32
#define SALT_BYTES 16

typedef struct {
    char *replica; /* 16 hex digits: who wrote it */
    int64_t seq;   /* from 1, without a gap, for each replica */
    int64_t wall;  /* hybrid logical clock: milliseconds */
    int64_t logical;
    char *kind; /* "report.made" */
    /* id of what it is about: a client, a reply, an alert, a programme's hash, or "clinic" */
    char *subject;
    char *author; /* a clinician's name, "osier", or "client" */
    char *base;   /* id of the event whose value the author saw, or NULL */
    uint8_t salt[SALT_BYTES];
    char *body;   /* JSON object, canonical (sorted keys, compact); NULL once redacted */
    json_t *tree; /* the body, where it was read already; else NULL */
    uint8_t digest[DIGEST_BYTES];    /* chain, see chain.h */
    uint8_t body_hash[DIGEST_BYTES]; /* H(salt, body): survives redaction */
} Event;

Event *event_new(void);
Event *event_copy(const Event *event);
void event_free(Event *event);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(Event, event_free)

/* "REPLICA:SEQ" (g_free). */
char *event_id(const Event *event);

/* Order of two stamps: wall, then logical, then replica; <0, 0, >0. */
int event_compare(const Event *a, const Event *b);

/* One JSON line for export (new reference): every header field, body, digests in hex. */
json_t *event_json(const Event *event);

#endif
