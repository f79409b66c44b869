/* SPDX-License-Identifier: Apache-2.0 */
/* The serve port's twin: requests are handed in by a call, answers come back as values. */
#ifndef OSIER_ADAPTERS_SERVE_SERVE_MEMORY_H
#define OSIER_ADAPTERS_SERVE_SERVE_MEMORY_H

#include "adapters/serve/serve.h"

typedef struct {
    int status;
    char *content_type; /* or NULL */
    GBytes *body;
} ServeMemoryAnswer;

typedef void ServeMemoryDone(const ServeMemoryAnswer *answer, void *context);

Serve *serve_memory_new(const ServeLimits *limits, ServeHandler *handler, void *context);

/* Hands a request in. target: path with optional query. headers: NULL-ended "Name: value" list or
 * NULL. done is called once, when the handler's side has answered (413 at once where the body is
 * too large). */
void serve_memory_request(Serve *serve, const char *method, const char *target,
                          const char *const *headers, const char *body, size_t body_length,
                          ServeMemoryDone *done, void *context);

#endif
