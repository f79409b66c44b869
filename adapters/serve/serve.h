/* SPDX-License-Identifier: Apache-2.0 */
/* The serve port: listening, limits, one handler for each request. serve_mhd is the real one
 * (libmicrohttpd on libuv), serve_memory the twin. */
#ifndef OSIER_ADAPTERS_SERVE_SERVE_H
#define OSIER_ADAPTERS_SERVE_SERVE_H

#include <glib.h>
#include <stdbool.h>
#include <stdint.h>

typedef struct Serve Serve;
typedef struct ServeRequest ServeRequest;

/* A whole request with its body, never larger than the limit. Called on the loop. The handler, or
 * something it started, answers once with serve_answer; the request lives until then. */
typedef void ServeHandler(ServeRequest *request, void *context);

const char *serve_method(const ServeRequest *request);
const char *serve_path(const ServeRequest *request); /* decoded, without the query */
const char *serve_query(const ServeRequest *request, const char *name);  /* decoded, or NULL */
const char *serve_header(const ServeRequest *request, const char *name); /* or NULL */
GBytes *serve_body(const ServeRequest *request); /* never NULL; lives as long as the request */

/* Answers: content_type may be NULL; headers is a NULL-ended list of "Name: value" or NULL; body is
 * taken over (NULL: empty). */
void serve_answer(ServeRequest *request, int status, const char *content_type,
                  const char *const *headers, GBytes *body);

/* Answers with a JSON text that is taken over (g_free). */
void serve_answer_json(ServeRequest *request, int status, char *json);

typedef struct {
    size_t body_max; /* 413 past it, without keeping the body */
    int connections_max;
    int connections_per_address_max; /* 0: no limit of its own */
    int64_t idle_timeout_s;
} ServeLimits;

struct Serve {
    void (*close)(Serve *serve); /* stops listening, answers 503 to what is open, frees */
    int (*open_requests)(const Serve *serve); /* handed to the handler and not yet completed */
};

#endif
