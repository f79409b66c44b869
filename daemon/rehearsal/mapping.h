/* SPDX-License-Identifier: Apache-2.0 */
/* A clinic's gateway mapping from the gateway's side: what osier sends is read, and what osier
 * looks for is written, by the same settings. */
#ifndef OSIER_DAEMON_REHEARSAL_MAPPING_H
#define OSIER_DAEMON_REHEARSAL_MAPPING_H

#include "adapters/serve/serve.h"
#include "core/clinic/clinic.h"

/* A message as the gateway got it. Freed with sent_clear. */
typedef struct {
    char *to; /* NULL where the request does not say */
    char *text;
    char *id; /* NULL where the mapping sends none */
} Sent;

void sent_clear(Sent *sent);

/* Reads a request that was made by the mapping, whose url leads to the stand-in already. False
 * where number or text cannot be found in it. */
bool mapping_read_send(const SendMapping *mapping, const ServeRequest *request, Sent *sent);

/* The cursor in a poll's request (g_free); "" where there is none. */
char *mapping_read_cursor(const PollMapping *mapping, const ServeRequest *request);

/* The url with scheme and host replaced by origin ("http://127.0.0.1:4711") and base put before
 * its path (g_free). */
char *mapping_move_url(const char *url, const char *origin, const char *base);

/* Puts the value (taken over) where a JSON Pointer (RFC 6901) will find it; what is missing on the
 * way is made, an array where a step is "0". pointer NULL: dropped. "" replaces the root. */
void mapping_put(json_t **root, const char *pointer, json_t *value);

#endif
