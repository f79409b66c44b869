/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/rehearsal/post_office.h"

#include <arpa/inet.h>
#include <string.h>

enum { BACKLOG = 64 };

struct PostOffice {
    uv_tcp_t listener;
    MailTaken *taken;
    void *context;
    GPtrArray *callers; /* of Caller */
    int port;
    bool closing;
    bool listener_closed;
};

typedef struct {
    uv_tcp_t socket;
    PostOffice *office;
    SmtpTalk *talk;
    bool leaving; /* what is written is the last */
    char buffer[16384];
} Caller;

typedef struct {
    uv_write_t request;
    char *bytes;
} Answer;

static void free_if_done(PostOffice *office)
{
    if (!office->listener_closed || office->callers->len > 0) return;
    g_ptr_array_unref(office->callers);
    g_free(office);
}

static void on_caller_closed(uv_handle_t *handle)
{
    Caller *caller = handle->data;
    PostOffice *office = caller->office;

    smtp_talk_free(caller->talk);
    g_ptr_array_remove_fast(office->callers, caller);
    g_free(caller);
    free_if_done(office);
}

static void hang_up(Caller *caller)
{
    if (!uv_is_closing((uv_handle_t *)&caller->socket))
        uv_close((uv_handle_t *)&caller->socket, on_caller_closed);
}

static void on_written(uv_write_t *request, int status)
{
    Answer *answer = request->data;
    Caller *caller = request->handle->data;

    if (status != 0 || caller->leaving) hang_up(caller);
    g_free(answer->bytes);
    g_free(answer);
}

static void say(Caller *caller, const char *bytes, size_t length)
{
    Answer *answer = g_new0(Answer, 1);

    answer->bytes = g_memdup2(bytes, length);
    answer->request.data = answer;
    uv_buf_t piece = uv_buf_init(answer->bytes, (unsigned)length);
    int rc = uv_write(&answer->request, (uv_stream_t *)&caller->socket, &piece, 1, on_written);
    if (rc == 0) return;
    g_free(answer->bytes);
    g_free(answer);
    hang_up(caller);
}

static void lend_buffer(uv_handle_t *handle, size_t wanted, uv_buf_t *piece)
{
    Caller *caller = handle->data;

    (void)wanted;
    *piece = uv_buf_init(caller->buffer, sizeof caller->buffer);
}

static void on_bytes(uv_stream_t *stream, ssize_t length, const uv_buf_t *piece)
{
    Caller *caller = stream->data;
    g_autoptr(GString) out = g_string_new(NULL);

    if (length < 0) {
        hang_up(caller);
        return;
    }
    caller->leaving = !smtp_talk_hear(caller->talk, piece->base, (size_t)length, out);
    if (caller->leaving) uv_read_stop(stream);
    if (out->len > 0) say(caller, out->str, out->len);
}

static void on_caller(uv_stream_t *stream, int status)
{
    PostOffice *office = stream->data;

    if (status != 0 || office->closing) return;
    Caller *caller = g_new0(Caller, 1);
    caller->office = office;
    uv_tcp_init(stream->loop, &caller->socket);
    caller->socket.data = caller;
    caller->talk = smtp_talk_new(office->taken, office->context);
    g_ptr_array_add(office->callers, caller);
    if (uv_accept(stream, (uv_stream_t *)&caller->socket) != 0 ||
        uv_read_start((uv_stream_t *)&caller->socket, lend_buffer, on_bytes) != 0) {
        hang_up(caller);
        return;
    }
    uv_tcp_nodelay(&caller->socket, 1);
    say(caller, smtp_greeting(), strlen(smtp_greeting()));
}

static void on_listener_closed(uv_handle_t *handle)
{
    PostOffice *office = handle->data;

    office->listener_closed = true;
    free_if_done(office);
}

PostOffice *post_office_new(uv_loop_t *loop, MailTaken *taken, void *context, char **why)
{
    PostOffice *office = g_new0(PostOffice, 1);
    struct sockaddr_in address;
    int length = sizeof address;

    *office = (PostOffice){.taken = taken, .context = context, .callers = g_ptr_array_new()};
    uv_tcp_init(loop, &office->listener);
    office->listener.data = office;
    uv_ip4_addr("127.0.0.1", 0, &address);
    int rc = uv_tcp_bind(&office->listener, (const struct sockaddr *)&address, 0);
    if (rc == 0) rc = uv_listen((uv_stream_t *)&office->listener, BACKLOG, on_caller);
    if (rc == 0) rc = uv_tcp_getsockname(&office->listener, (struct sockaddr *)&address, &length);
    if (rc != 0) {
        *why = g_strdup(uv_strerror(rc));
        post_office_close(office);
        return NULL;
    }
    office->port = ntohs(address.sin_port);
    return office;
}

int post_office_port(const PostOffice *office)
{
    return office->port;
}

void post_office_close(PostOffice *office)
{
    if (office == NULL || office->closing) return;
    office->closing = true;
    for (guint i = 0; i < office->callers->len; i++)
        hang_up(office->callers->pdata[i]);
    uv_close((uv_handle_t *)&office->listener, on_listener_closed);
}
