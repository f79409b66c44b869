/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/serve/serve_memory.h"

#include <string.h>

#include "adapters/serve/request.h"

typedef struct {
    Serve port;
    ServeLimits limits;
    ServeHandler *handler;
    void *context;
    GPtrArray *open;    /* of Visit, oldest first */
    GPtrArray *streams; /* of Visit whose answer goes on */
} ServeMemory;

typedef struct {
    ServeMemory *serve;
    ServeRequest *request;
    ServeMemoryDone *done;
    void *context;
} Visit;

/* The twin's stream: what was sent so far. Its visit hears the whole once it has ended. */
typedef struct {
    ServeStream face;
    GByteArray *sent;
    ServeStreamGone *gone;
    void *context;
    Visit *visit;
} Stream;

static void report(Visit *visit, int status, const char *content_type, GBytes *body)
{
    ServeMemoryAnswer answer = {status, (char *)content_type, body};
    visit->done(&answer, visit->context);
}

static void end_visit(Visit *visit)
{
    visit->request->told = NULL;
    visit->request->opens = NULL;
    request_release(visit->request);
    g_free(visit);
}

static void stream_free(Stream *stream)
{
    stream->gone(stream->context);
    g_byte_array_unref(stream->sent);
    g_free(stream);
}

static void stream_send(ServeStream *face, const char *text)
{
    g_byte_array_append(((Stream *)face)->sent, (const guint8 *)text, (guint)strlen(text));
}

static void stream_end(ServeStream *face)
{
    Stream *stream = (Stream *)face;
    Visit *visit = stream->visit;
    g_autoptr(GBytes) body = g_bytes_new(stream->sent->data, stream->sent->len);

    g_ptr_array_remove(visit->serve->streams, visit);
    report(visit, 200, visit->request->content_type, body);
    stream_free(stream);
    end_visit(visit);
}

static ServeStream *stream_open(ServeRequest *request, const char *filler, ServeStreamGone *gone,
                                void *context)
{
    Visit *visit = request->owner;
    Stream *stream;

    (void)filler;
    if ((int)visit->serve->streams->len >= visit->serve->limits.streams_max) return NULL;
    stream = g_new0(Stream, 1);
    *stream = (Stream){.face = {stream_send, stream_end},
                       .sent = g_byte_array_new(),
                       .gone = gone,
                       .context = context,
                       .visit = visit};
    return &stream->face;
}

static void answered(ServeRequest *request, void *owner)
{
    Visit *visit = owner;

    if (request->stream != NULL) {
        g_ptr_array_remove(visit->serve->open, visit);
        g_ptr_array_add(visit->serve->streams, visit);
        return;
    }
    report(visit, request->status, request->content_type, request->answer);
    if (request->told == NULL) return; /* closed from within: the visit is gone */
    g_ptr_array_remove(visit->serve->open, visit);
    end_visit(visit);
}

static void refuse(int status, ServeMemoryDone *done, void *context)
{
    Visit visit = {.done = done, .context = context};
    g_autoptr(GBytes) empty = g_bytes_new(NULL, 0);
    report(&visit, status, NULL, empty);
}

/* "Name: value" lines; a line without a colon is left out. */
static void take_headers(ServeRequest *request, const char *const *headers)
{
    for (; headers != NULL && *headers != NULL; headers++) {
        const char *colon = strchr(*headers, ':');
        if (colon == NULL) continue;
        g_autofree char *name = g_strndup(*headers, (gsize)(colon - *headers));
        g_autofree char *value = g_strstrip(g_strdup(colon + 1));
        request_header(request, name, value);
    }
}

void serve_memory_request(Serve *port, const char *method, const char *target,
                          const char *const *headers, const char *body, size_t body_length,
                          ServeMemoryDone *done, void *context)
{
    ServeMemory *serve = (ServeMemory *)port;
    if (body_length > serve->limits.body_max) {
        refuse(413, done, context);
        return;
    }
    ServeRequest *request = request_new(method, target);
    if (request == NULL) {
        refuse(400, done, context);
        return;
    }
    take_headers(request, headers);
    request_body(request, g_bytes_new(body, body_length));

    Visit *visit = g_new0(Visit, 1);
    *visit = (Visit){serve, request, done, context};
    request->told = answered;
    request->opens = stream_open;
    request->owner = visit;
    g_ptr_array_add(serve->open, visit);
    serve->handler(request, serve->context);
}

static int open_requests(const Serve *port)
{
    return (int)((const ServeMemory *)port)->open->len;
}

static void shut(Serve *port)
{
    ServeMemory *serve = (ServeMemory *)port;
    g_autoptr(GBytes) empty = g_bytes_new(NULL, 0);
    while (serve->open->len > 0) {
        Visit *visit = g_ptr_array_steal_index(serve->open, 0);
        if (!visit->request->answered) report(visit, 503, NULL, empty);
        end_visit(visit);
    }
    while (serve->streams->len > 0)
        stream_end(((Visit *)serve->streams->pdata[0])->request->stream);
    g_ptr_array_unref(serve->streams);
    g_ptr_array_unref(serve->open);
    g_free(serve);
}

Serve *serve_memory_new(const ServeLimits *limits, ServeHandler *handler, void *context)
{
    ServeMemory *serve = g_new0(ServeMemory, 1);
    serve->port = (Serve){shut, open_requests};
    serve->limits = *limits;
    serve->handler = handler;
    serve->context = context;
    serve->open = g_ptr_array_new();
    serve->streams = g_ptr_array_new();
    return &serve->port;
}
