/* SPDX-License-Identifier: Apache-2.0 */
/* A request as both sides of the serve port hold it. Private to this folder. */
#ifndef OSIER_ADAPTERS_SERVE_REQUEST_H
#define OSIER_ADAPTERS_SERVE_REQUEST_H

#include "adapters/serve/serve.h"

/* Told once, from serve_answer. */
typedef void RequestAnswered(ServeRequest *request, void *owner);

/* What each listening side's streams begin with. */
struct ServeStream {
    void (*send)(ServeStream *stream, const char *text);
    void (*end)(ServeStream *stream);
};

/* Makes the stream that a listening side will feed from; NULL where it has no room for one. */
typedef ServeStream *RequestOpensStream(ServeRequest *request, const char *filler,
                                        ServeStreamGone *gone, void *context);

/* Two hold a request: the handler's side until it answers, and the listening side until the answer
 * is out. Either may go first, so it is counted. */
struct ServeRequest {
    int holders;
    char *method;
    char *path;
    GHashTable *query;   /* name -> value, decoded */
    GHashTable *headers; /* lower-case name -> value */
    GBytes *body;
    char *pin;  /* of the other side's key, or NULL */
    bool known; /* who asks */
    bool answered;
    int status;
    char *content_type;
    char **answer_headers;
    char **also; /* headers beside those, or NULL */
    GBytes *answer;
    ServeStream *stream;       /* the answer, where it goes on */
    RequestOpensStream *opens; /* NULL once the listening side is gone */
    RequestAnswered *told;     /* NULL once the listening side is gone */
    void *owner;
};

/* A request held by both sides. NULL where the target is no path with an optional query: bad
 * escapes, an escaped slash or NUL, no valid UTF-8. */
ServeRequest *request_new(const char *method, const char *target);

/* Adds a header; a repeated one is joined by ", " (RFC 9110 section 5.3). */
void request_header(ServeRequest *request, const char *name, const char *value);

/* Takes the body over. */
void request_body(ServeRequest *request, GBytes *body);

/* The listening side, or the handler's, lets go. */
void request_release(ServeRequest *request);

#endif
