/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/support/script_server.h"

#include <stdlib.h>
#include <string.h>

struct ScriptServer {
    uv_tcp_t listener;
    Script *script;
    void *context;
    GPtrArray *peers;
    int accepted;
    int handles;
};

struct ScriptPeer {
    uv_tcp_t stream;
    ScriptServer *server;
    GString *heard;
    int state;
    char buffer[65536];
};

typedef struct {
    uv_write_t write;
    char *text;
} Saying;

static void let_go(ScriptServer *server)
{
    if (--server->handles > 0) return;
    g_ptr_array_unref(server->peers);
    g_free(server);
}

static void listener_closed(uv_handle_t *handle)
{
    let_go((ScriptServer *)handle);
}

static void peer_closed(uv_handle_t *handle)
{
    ScriptPeer *peer = (ScriptPeer *)handle;
    ScriptServer *server = peer->server;
    g_string_free(peer->heard, TRUE);
    g_free(peer);
    let_go(server);
}

static void peer_close(ScriptPeer *peer)
{
    if (uv_is_closing((uv_handle_t *)&peer->stream)) return;
    g_ptr_array_remove_fast(peer->server->peers, peer);
    uv_close((uv_handle_t *)&peer->stream, peer_closed);
}

static void give_buffer(uv_handle_t *handle, size_t suggested, uv_buf_t *buffer)
{
    (void)suggested;
    ScriptPeer *peer = (ScriptPeer *)handle;
    *buffer = uv_buf_init(peer->buffer, sizeof peer->buffer);
}

static void came(uv_stream_t *stream, ssize_t length, const uv_buf_t *buffer)
{
    ScriptPeer *peer = (ScriptPeer *)stream;
    if (length < 0) {
        peer_close(peer);
        return;
    }
    g_string_append_len(peer->heard, buffer->base, length);
    if (length > 0) peer->server->script(peer, peer->heard, peer->server->context);
}

static void connected(uv_stream_t *listener, int status)
{
    ScriptServer *server = (ScriptServer *)listener;
    if (status < 0) return;
    ScriptPeer *peer = g_new0(ScriptPeer, 1);
    peer->server = server;
    peer->heard = g_string_new(NULL);
    uv_tcp_init(listener->loop, &peer->stream);
    server->handles++;
    server->accepted++;
    g_ptr_array_add(server->peers, peer);
    g_assert(uv_accept(listener, (uv_stream_t *)&peer->stream) == 0);
    uv_read_start((uv_stream_t *)&peer->stream, give_buffer, came);
    server->script(peer, peer->heard, server->context);
}

ScriptServer *script_server_new(uv_loop_t *loop, Script *script, void *context)
{
    ScriptServer *server = g_new0(ScriptServer, 1);
    struct sockaddr_in address;
    server->script = script;
    server->context = context;
    server->peers = g_ptr_array_new();
    server->handles = 1;
    uv_tcp_init(loop, &server->listener);
    g_assert(uv_ip4_addr("127.0.0.1", 0, &address) == 0);
    g_assert(uv_tcp_bind(&server->listener, (struct sockaddr *)&address, 0) == 0);
    g_assert(uv_listen((uv_stream_t *)&server->listener, 256, connected) == 0);
    return server;
}

int script_server_port(const ScriptServer *server)
{
    struct sockaddr_in address;
    int length = sizeof address;
    g_assert(uv_tcp_getsockname(&server->listener, (struct sockaddr *)&address, &length) == 0);
    return GUINT16_FROM_BE(address.sin_port);
}

int script_server_accepted(const ScriptServer *server)
{
    return server->accepted;
}

void script_server_close(ScriptServer *server)
{
    while (server->peers->len > 0)
        peer_close(server->peers->pdata[0]);
    uv_close((uv_handle_t *)&server->listener, listener_closed);
}

void script_server_reset_all(ScriptServer *server)
{
    while (server->peers->len > 0) {
        ScriptPeer *peer = server->peers->pdata[0];
        g_ptr_array_remove_fast(server->peers, peer);
        g_assert(uv_tcp_close_reset(&peer->stream, peer_closed) == 0);
    }
}

static void said(uv_write_t *write, int status)
{
    (void)status;
    Saying *saying = (Saying *)write;
    g_free(saying->text);
    g_free(saying);
}

void script_say(ScriptPeer *peer, const char *text, size_t length)
{
    Saying *saying = g_new0(Saying, 1);
    saying->text = g_memdup2(text, length);
    uv_buf_t buffer = uv_buf_init(saying->text, (unsigned)length);
    uv_write(&saying->write, (uv_stream_t *)&peer->stream, &buffer, 1, said);
}

void script_say_text(ScriptPeer *peer, const char *text)
{
    script_say(peer, text, strlen(text));
}

static void shut_down(uv_shutdown_t *shutdown, int status)
{
    (void)status;
    peer_close((ScriptPeer *)shutdown->handle);
    g_free(shutdown);
}

void script_hang_up(ScriptPeer *peer)
{
    uv_shutdown_t *shutdown = g_new0(uv_shutdown_t, 1);
    if (uv_shutdown(shutdown, (uv_stream_t *)&peer->stream, shut_down) != 0) g_free(shutdown);
}

int *script_state(ScriptPeer *peer)
{
    return &peer->state;
}

bool script_take_http(GString *heard)
{
    const char *end = strstr(heard->str, "\r\n\r\n");
    if (end == NULL) return false;
    const char *length_at = strstr(heard->str, "Content-Length: ");
    size_t length = length_at != NULL && length_at < end
                        ? strtoul(length_at + strlen("Content-Length: "), NULL, 10)
                        : 0;
    size_t whole = (size_t)(end - heard->str) + 4 + length;
    if (heard->len < whole) return false;
    g_string_erase(heard, 0, (gssize)whole);
    return true;
}

char *script_take_line(GString *heard)
{
    const char *end = strstr(heard->str, "\r\n");
    if (end == NULL) return NULL;
    char *line = g_strndup(heard->str, (gsize)(end - heard->str));
    g_string_erase(heard, 0, end - heard->str + 2);
    return line;
}
