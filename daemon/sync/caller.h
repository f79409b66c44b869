/* SPDX-License-Identifier: Apache-2.0 */
/* What another replica asks over the line, and how it is turned away. Not for other rooms. */
#ifndef OSIER_DAEMON_SYNC_CALLER_H
#define OSIER_DAEMON_SYNC_CALLER_H

#include <jansson.h>

#include "adapters/serve/serve.h"

/* The body of a request, of at most so many bytes, as a JSON object (new reference); NULL: it is none. */
json_t *caller_object(const ServeRequest *request, gsize most);

/* Answers with a status and nothing else. */
void caller_turn_away(ServeRequest *request, int status);

#endif
