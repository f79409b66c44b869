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

/* The key that the other side of a TLS connection showed and holds, as "sha256//" and the base64 of the SHA-256 of its public
 * key (RFC 7469 section 2.4); NULL where it showed none. Who that is, and whether it may call, is the handler's to say. */
const char *serve_pin(const ServeRequest *request);

/* Answers: content_type may be NULL; headers is a NULL-ended list of "Name: value" or NULL; body is
 * taken over (NULL: empty). */
void serve_answer(ServeRequest *request, int status, const char *content_type,
                  const char *const *headers, GBytes *body);

/* Answers with a JSON text that is taken over (g_free). */
void serve_answer_json(ServeRequest *request, int status, char *json);

/* Headers ("Name: value", NULL-ended, copied) that the answer will carry beside its own and those of an earlier call. */
void serve_also(ServeRequest *request, const char *const *headers);

/* The other side is known: where connections yield (ServeLimits), its own is among the last that do. */
void serve_known(ServeRequest *request);

/* An answer that goes on for as long as both sides like. */
typedef struct ServeStream ServeStream;

/* Called once when a stream has ended, whoever ended it; it is no more then. */
typedef void ServeStreamGone(void *context);

/* Answers 200 with a stream. filler is sent into a silence of 20 s, which is how a client that left is
 * noticed. A stream ends by itself after 15 minutes, and where the client has fallen 64 KiB behind.
 * NULL, with 503 answered and gone not called, where there are as many as there may be. */
ServeStream *serve_stream(ServeRequest *request, const char *content_type, const char *filler,
                          ServeStreamGone *gone, void *context);

/* Sends; may be called until gone has been. */
void serve_stream_send(ServeStream *stream, const char *text);

/* Ends it once what was sent is out. gone follows, from the loop. */
void serve_stream_end(ServeStream *stream);

typedef struct {
    size_t body_max; /* 413 past it, without keeping the body */
    int connections_max;
    int connections_per_address_max; /* 0: no limit of its own */
    /* Where there are as many as there may be, whoever comes gets in, and one is cut off that we wait for: first of those that
     * are not known, of the address that has the most, the oldest. False: whoever comes is turned away. */
    bool yields;
    int64_t idle_timeout_s;
    int streams_max; /* answers that go on; they count as connections too */
    /* Is a request heard, by its head and key? Where not, nothing of its body is kept, and the answer is an empty 404. NULL:
     * all are. context is the handler's. */
    bool (*keeps)(const ServeRequest *request, void *context);
} ServeLimits;

struct Serve {
    void (*close)(Serve *serve); /* stops listening, answers 503 to what is open, frees */
    int (*open_requests)(
        const Serve *serve); /* handed to the handler and not yet completed, streams aside */
};

#endif
