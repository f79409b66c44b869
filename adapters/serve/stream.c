/* SPDX-License-Identifier: Apache-2.0 */
/* An answer that goes on. libmicrohttpd asks for more of it whenever the connection can take some;
 * while there is nothing to say the connection is suspended, which keeps the loop asleep but also
 * hides a client that has left: hence the filler now and then. */
#include <string.h>
#include <sys/socket.h>

#include "adapters/serve/mhd_inside.h"

#define SILENCE_MS 20000
#define LIFE_MS (15 * 60 * 1000)

enum { PULSE_MS = 5000, BEHIND_MAX = 64 * 1024, BLOCK = 4096 };

typedef struct {
    ServeStream face;
    ServeMhd *serve;
    struct MHD_Connection *connection; /* NULL until the answer was begun */
    GByteArray *waiting;
    char *filler;
    ServeStreamGone *gone;
    void *context;
    uint64_t born_ms, spoke_ms;
    bool suspended, ended;
} Stream;

static void wake(Stream *stream)
{
    if (!stream->suspended) return;
    stream->suspended = false;
    MHD_resume_connection(stream->connection);
    serve_mhd_kick(stream->serve);
}

static void send_text(ServeStream *face, const char *text)
{
    Stream *stream = (Stream *)face;

    if (stream->ended) return;
    g_byte_array_append(stream->waiting, (const guint8 *)text, (guint)strlen(text));
    stream->spoke_ms = uv_now(stream->serve->loop);
    /* Nobody reads: what waits is dropped with the connection. */
    if (stream->waiting->len > BEHIND_MAX && stream->connection != NULL)
        shutdown(MHD_get_connection_info(stream->connection, MHD_CONNECTION_INFO_CONNECTION_FD)
                     ->connect_fd,
                 SHUT_RDWR);
    wake(stream);
}

static void end(ServeStream *face)
{
    Stream *stream = (Stream *)face;

    stream->ended = true;
    wake(stream);
}

static void pulse(uv_timer_t *timer)
{
    ServeMhd *serve = timer->data;
    uint64_t now_ms = uv_now(serve->loop);

    for (guint i = 0; i < serve->streams->len; i++) {
        Stream *stream = serve->streams->pdata[i];
        if (now_ms - stream->born_ms >= LIFE_MS)
            end(&stream->face);
        else if (now_ms - stream->spoke_ms >= SILENCE_MS)
            send_text(&stream->face, stream->filler);
    }
}

ServeStream *stream_open(ServeRequest *request, const char *filler, ServeStreamGone *gone,
                         void *context)
{
    ServeMhd *serve = ((Visit *)request->owner)->serve;

    if (serve->closing || (int)serve->streams->len >= serve->limits.streams_max) return NULL;
    Stream *stream = g_new0(Stream, 1);
    *stream = (Stream){.face = {send_text, end},
                       .serve = serve,
                       .waiting = g_byte_array_new(),
                       .filler = g_strdup(filler),
                       .gone = gone,
                       .context = context,
                       .born_ms = uv_now(serve->loop),
                       .spoke_ms = uv_now(serve->loop)};
    if (serve->streams->len == 0) uv_timer_start(&serve->pulse, pulse, PULSE_MS, PULSE_MS);
    g_ptr_array_add(serve->streams, stream);
    return &stream->face;
}

static ssize_t feed(void *context, uint64_t position, char *buffer, size_t size)
{
    Stream *stream = context;
    size_t length = MIN(size, stream->waiting->len);

    (void)position;
    if (length > 0) {
        memcpy(buffer, stream->waiting->data, length);
        g_byte_array_remove_range(stream->waiting, 0, (guint)length);
        return (ssize_t)length;
    }
    if (stream->ended) return MHD_CONTENT_READER_END_OF_STREAM;
    stream->suspended = true;
    MHD_suspend_connection(stream->connection);
    return 0;
}

struct MHD_Response *stream_response(ServeStream *face, struct MHD_Connection *connection)
{
    Stream *stream = (Stream *)face;

    stream->connection = connection;
    return MHD_create_response_from_callback(MHD_SIZE_UNKNOWN, BLOCK, feed, stream, NULL);
}

void stream_gone(ServeStream *face)
{
    Stream *stream = (Stream *)face;
    ServeMhd *serve = stream->serve;

    g_ptr_array_remove(serve->streams, stream);
    if (serve->streams->len == 0 && !serve->closing) uv_timer_stop(&serve->pulse);
    stream->gone(stream->context);
    g_byte_array_unref(stream->waiting);
    g_free(stream->filler);
    g_free(stream);
}

void streams_end(ServeMhd *serve)
{
    for (guint i = 0; i < serve->streams->len; i++)
        end(serve->streams->pdata[i]);
}
