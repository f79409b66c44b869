/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/support/raw_client.h"

#include <stdlib.h>
#include <string.h>

struct RawClient {
    union {
        uv_stream_t stream;
        uv_tcp_t tcp;
        uv_pipe_t pipe;
    };
    uv_connect_t connect;
    uv_loop_t *loop;
    GString *heard;
    GString *head;
    bool ended;
    char buffer[65536];
};

typedef struct {
    uv_write_t write;
    char *bytes;
} Sending;

static void give_buffer(uv_handle_t *handle, size_t suggested, uv_buf_t *buffer)
{
    (void)suggested;
    RawClient *client = handle->data;
    *buffer = uv_buf_init(client->buffer, sizeof client->buffer);
}

static void came(uv_stream_t *stream, ssize_t length, const uv_buf_t *buffer)
{
    RawClient *client = stream->data;
    if (length < 0) {
        client->ended = true;
        uv_read_stop(stream);
    } else {
        g_string_append_len(client->heard, buffer->base, length);
    }
}

static void connected(uv_connect_t *connect, int status)
{
    RawClient *client = connect->data;
    if (status != 0)
        client->ended = true;
    else
        uv_read_start(&client->stream, give_buffer, came);
}

static RawClient *client_new(uv_loop_t *loop)
{
    RawClient *client = g_new0(RawClient, 1);
    client->loop = loop;
    client->heard = g_string_new(NULL);
    client->head = g_string_new(NULL);
    client->connect.data = client;
    return client;
}

/* Turns the loop until the connection stands, so that what is sent goes out at once. */
static void wait_connected(RawClient *client)
{
    while (!client->ended && !uv_is_readable(&client->stream))
        uv_run(client->loop, UV_RUN_ONCE);
}

RawClient *raw_client_tcp(uv_loop_t *loop, int port)
{
    return raw_client_tcp_from(loop, "127.0.0.1", port);
}

RawClient *raw_client_tcp_from(uv_loop_t *loop, const char *own_address, int port)
{
    RawClient *client = client_new(loop);
    struct sockaddr_in address, own;
    g_assert(uv_ip4_addr("127.0.0.1", port, &address) == 0);
    g_assert(uv_ip4_addr(own_address, 0, &own) == 0);
    uv_tcp_init(loop, &client->tcp);
    g_assert(uv_tcp_bind(&client->tcp, (struct sockaddr *)&own, 0) == 0);
    client->stream.data = client;
    g_assert(uv_tcp_connect(&client->connect, &client->tcp, (struct sockaddr *)&address,
                            connected) == 0);
    wait_connected(client);
    return client;
}

RawClient *raw_client_unix(uv_loop_t *loop, const char *path)
{
    RawClient *client = client_new(loop);
    uv_pipe_init(loop, &client->pipe, 0);
    client->stream.data = client;
    uv_pipe_connect(&client->connect, &client->pipe, path, connected);
    wait_connected(client);
    return client;
}

static void sent(uv_write_t *write, int status)
{
    (void)status;
    Sending *sending = (Sending *)write;
    g_free(sending->bytes);
    g_free(sending);
}

void raw_client_send(RawClient *client, const char *bytes, size_t length)
{
    Sending *sending = g_new0(Sending, 1);
    sending->bytes = g_memdup2(bytes, length);
    uv_buf_t buffer = uv_buf_init(sending->bytes, (unsigned)length);
    if (uv_write(&sending->write, &client->stream, &buffer, 1, sent) != 0)
        sent(&sending->write, -1);
}

/* The length of the head with its blank line, and of the whole answer; 0 where it is not whole. */
static size_t whole_answer(const RawClient *client, size_t *head)
{
    const char *end = strstr(client->heard->str, "\r\n\r\n");
    if (end == NULL) return 0;
    *head = (size_t)(end - client->heard->str) + 4;
    const char *length = strstr(client->heard->str, "Content-Length: ");
    size_t body =
        length != NULL && length < end ? strtoul(length + strlen("Content-Length: "), NULL, 10) : 0;
    return client->heard->len >= *head + body ? *head + body : 0;
}

int raw_client_answer(RawClient *client, GBytes **body)
{
    size_t head = 0, whole;
    while ((whole = whole_answer(client, &head)) == 0 && !client->ended)
        uv_run(client->loop, UV_RUN_ONCE);
    if (whole == 0) return 0;
    g_string_truncate(client->head, 0);
    g_string_append_len(client->head, client->heard->str, (gssize)head);
    if (body != NULL) *body = g_bytes_new(client->heard->str + head, whole - head);
    g_string_erase(client->heard, 0, (gssize)whole);
    return atoi(client->head->str + strlen("HTTP/1.1 "));
}

const char *raw_client_head(const RawClient *client)
{
    return client->head->str;
}

void raw_client_wait_end(RawClient *client)
{
    while (!client->ended)
        uv_run(client->loop, UV_RUN_ONCE);
}

static void closed(uv_handle_t *handle)
{
    RawClient *client = handle->data;
    g_string_free(client->heard, TRUE);
    g_string_free(client->head, TRUE);
    g_free(client);
}

void raw_client_close(RawClient *client)
{
    uv_close((uv_handle_t *)&client->stream, closed);
}
