/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/rehearsal/post_office.h"

#include <arpa/inet.h>
#include <string.h>

enum { BACKLOG = 64 };

/* Where one of the two protocols is spoken. */
typedef struct {
    uv_tcp_t listener;
    PostOffice *office;
    int port;
    bool imap;
} Counter;

struct PostOffice {
    Counter smtp, imap;
    ImapMailbox *mailbox;
    MailTaken *taken;
    void *context;
    GPtrArray *callers; /* of Caller */
    int counters;       /* not yet closed */
    bool closing;
};

typedef struct {
    uv_tcp_t socket;
    PostOffice *office;
    SmtpTalk *smtp; /* one of the two */
    ImapTalk *imap;
    bool leaving; /* what is written is the last */
    char buffer[16384];
} Caller;

typedef struct {
    uv_write_t request;
    char *bytes;
} Answer;

static void free_if_done(PostOffice *office)
{
    if (office->counters > 0 || office->callers->len > 0) return;
    g_ptr_array_unref(office->callers);
    g_free(office);
}

static void on_caller_closed(uv_handle_t *handle)
{
    Caller *caller = handle->data;
    PostOffice *office = caller->office;

    smtp_talk_free(caller->smtp);
    imap_talk_free(caller->imap);
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
    caller->leaving = caller->smtp != NULL
                          ? !smtp_talk_hear(caller->smtp, piece->base, (size_t)length, out)
                          : !imap_talk_hear(caller->imap, piece->base, (size_t)length, out);
    if (caller->leaving) uv_read_stop(stream);
    if (out->len > 0) say(caller, out->str, out->len);
}

static void on_caller(uv_stream_t *stream, int status)
{
    const Counter *counter = stream->data;
    PostOffice *office = counter->office;
    const char *greeting = counter->imap ? imap_greeting() : smtp_greeting();

    if (status != 0 || office->closing) return;
    Caller *caller = g_new0(Caller, 1);
    caller->office = office;
    uv_tcp_init(stream->loop, &caller->socket);
    caller->socket.data = caller;
    if (counter->imap)
        caller->imap = imap_talk_new(office->mailbox);
    else
        caller->smtp = smtp_talk_new(office->taken, office->context);
    g_ptr_array_add(office->callers, caller);
    if (uv_accept(stream, (uv_stream_t *)&caller->socket) != 0 ||
        uv_read_start((uv_stream_t *)&caller->socket, lend_buffer, on_bytes) != 0) {
        hang_up(caller);
        return;
    }
    uv_tcp_nodelay(&caller->socket, 1);
    say(caller, greeting, strlen(greeting));
}

static void on_counter_closed(uv_handle_t *handle)
{
    PostOffice *office = ((Counter *)handle->data)->office;

    office->counters--;
    free_if_done(office);
}

/* 0, or libuv's error. */
static int counter_open(Counter *counter, PostOffice *office, uv_loop_t *loop, bool imap)
{
    struct sockaddr_in address;
    int length = sizeof address;

    *counter = (Counter){.office = office, .imap = imap};
    uv_tcp_init(loop, &counter->listener);
    counter->listener.data = counter;
    office->counters++;
    uv_ip4_addr("127.0.0.1", 0, &address);
    int rc = uv_tcp_bind(&counter->listener, (const struct sockaddr *)&address, 0);
    if (rc == 0) rc = uv_listen((uv_stream_t *)&counter->listener, BACKLOG, on_caller);
    if (rc == 0) rc = uv_tcp_getsockname(&counter->listener, (struct sockaddr *)&address, &length);
    counter->port = ntohs(address.sin_port);
    return rc;
}

PostOffice *post_office_new(uv_loop_t *loop, ImapMailbox *mailbox, MailTaken *taken, void *context,
                            char **why)
{
    PostOffice *office = g_new0(PostOffice, 1);

    office->mailbox = mailbox;
    office->taken = taken;
    office->context = context;
    office->callers = g_ptr_array_new();
    int smtp = counter_open(&office->smtp, office, loop, false);
    int imap = counter_open(&office->imap, office, loop, true);
    if (smtp == 0 && imap == 0) return office;
    *why = g_strdup(uv_strerror(smtp != 0 ? smtp : imap));
    post_office_close(office);
    return NULL;
}

int post_office_smtp_port(const PostOffice *office)
{
    return office->smtp.port;
}

int post_office_imap_port(const PostOffice *office)
{
    return office->imap.port;
}

void post_office_close(PostOffice *office)
{
    if (office == NULL || office->closing) return;
    office->closing = true;
    for (guint i = 0; i < office->callers->len; i++)
        hang_up(office->callers->pdata[i]);
    uv_close((uv_handle_t *)&office->smtp.listener, on_counter_closed);
    uv_close((uv_handle_t *)&office->imap.listener, on_counter_closed);
}
