/* SPDX-License-Identifier: Apache-2.0 */
/* libmicrohttpd without a thread of its own, driven by libuv. Its epoll descriptor is
 * edge-triggered within: after each run it must be asked when it wants to run again, be that at
 * once, or requests hang. It may not be entered from within its callbacks, so what happens there is
 * left to the end of the run. */
#include "adapters/serve/serve_mhd.h"

#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <unistd.h>

#include "adapters/serve/listen.h"
#include "adapters/serve/mhd_inside.h"

/* libmicrohttpd takes up to ten connections before it looks at those that have ended, and at its own limit it stops to listen until
 * something wakes it: the limit that we keep is below. */
enum { CONNECTION_MEMORY = 64 * 1024, FAREWELL_RUNS = 16, SPARE = 64 };

static void run(ServeMhd *serve);
static void farewell(ServeMhd *serve);

static void timer_fired(uv_timer_t *timer)
{
    run(timer->data);
}

static void ready(uv_poll_t *poll, int status, int events)
{
    (void)status;
    (void)events;
    run(poll->data);
}

static void run(ServeMhd *serve)
{
    MHD_UNSIGNED_LONG_LONG wait_ms;
    serve->inside = true;
    MHD_run(serve->daemon);
    serve->inside = false;
    if (serve->closing)
        farewell(serve);
    else if (MHD_get_timeout(serve->daemon, &wait_ms) == MHD_YES)
        uv_timer_start(&serve->timer, timer_fired, wait_ms, 0);
    else
        uv_timer_stop(&serve->timer);
}

void serve_mhd_kick(ServeMhd *serve)
{
    if (!serve->inside) uv_timer_start(&serve->timer, timer_fired, 0, 0);
}

/* libmicrohttpd's time-out starts anew with every byte, so a client that drips could stay for ever.
 */
static void sweep(uv_timer_t *timer)
{
    ServeMhd *serve = timer->data;
    GHashTableIter iter;
    gpointer key;
    g_hash_table_iter_init(&iter, serve->peers);
    while (g_hash_table_iter_next(&iter, &key, NULL)) {
        Peer *peer = key;
        if (peer->due_ms == 0 || peer->due_ms > uv_now(serve->loop)) continue;
        room_cut(peer);
    }
    if (g_hash_table_size(serve->peers) == 0) uv_timer_stop(timer);
}

static void peer_came(ServeMhd *serve, struct MHD_Connection *connection, void **context)
{
    Peer *peer = g_new0(Peer, 1);
    peer->connection = connection;
    peer->due_ms = visit_due_ms(serve);
    peer->number = ++serve->came;
    peer->site = room_site(
        MHD_get_connection_info(connection, MHD_CONNECTION_INFO_CLIENT_ADDRESS)->client_addr);
    *context = peer;
    g_hash_table_add(serve->peers, peer);
    uint64_t every_ms = (uint64_t)serve->limits.idle_timeout_s * 1000;
    if (!uv_is_active((uv_handle_t *)&serve->sweep))
        uv_timer_start(&serve->sweep, sweep, every_ms, every_ms);
}

static void peer_moved(void *cls, struct MHD_Connection *connection, void **context,
                       enum MHD_ConnectionNotificationCode code)
{
    ServeMhd *serve = cls;
    if (code == MHD_CONNECTION_NOTIFY_STARTED) {
        peer_came(serve, connection, context);
        return;
    }
    serve->cut -= ((const Peer *)*context)->cut;
    g_hash_table_remove(serve->peers, *context);
    g_free(*context);
}

/* At once and plainly: a connection that would wait in the queue looks like a daemon that hangs. */
static enum MHD_Result admit(void *cls, const struct sockaddr *address, socklen_t length)
{
    (void)address;
    (void)length;
    return room_for_one(cls) ? MHD_YES : MHD_NO;
}

/* Naming a certificate to trust is how libmicrohttpd is made to ask for the other side's; it leaves judging to us, and its own
 * does. */
static struct MHD_Daemon *daemon_new(ServeMhd *serve, int fd)
{
    struct MHD_OptionItem tls[] = {
        {MHD_OPTION_HTTPS_MEM_CERT, 0, serve->certificate},
        {MHD_OPTION_HTTPS_MEM_KEY, 0, serve->key},
        {MHD_OPTION_HTTPS_MEM_TRUST, 0, serve->certificate},
        {MHD_OPTION_HTTPS_PRIORITIES, 0, (void *)"NORMAL:-VERS-ALL:+VERS-TLS1.3"},
        {MHD_OPTION_END, 0, NULL},
    };
    struct MHD_OptionItem plain[] = {{MHD_OPTION_END, 0, NULL}};
    bool secret = serve->certificate != NULL;
    unsigned flags = MHD_USE_EPOLL | MHD_ALLOW_SUSPEND_RESUME | (secret ? MHD_USE_TLS : 0);

    return MHD_start_daemon(
        flags, 0, admit, serve, visit_go_on, serve, MHD_OPTION_ARRAY, secret ? tls : plain,
        MHD_OPTION_LISTEN_SOCKET, fd, MHD_OPTION_CONNECTION_LIMIT,
        (unsigned)(serve->limits.connections_max + SPARE), MHD_OPTION_PER_IP_CONNECTION_LIMIT,
        (unsigned)serve->limits.connections_per_address_max, MHD_OPTION_CONNECTION_TIMEOUT,
        (unsigned)serve->limits.idle_timeout_s, MHD_OPTION_CONNECTION_MEMORY_LIMIT,
        (size_t)CONNECTION_MEMORY, MHD_OPTION_STRICT_FOR_CLIENT, 1, MHD_OPTION_URI_LOG_CALLBACK,
        visit_begin, serve, MHD_OPTION_NOTIFY_COMPLETED, visit_end, serve,
        MHD_OPTION_NOTIFY_CONNECTION, peer_moved, serve, MHD_OPTION_END);
}

static int open_requests(const Serve *port)
{
    return (int)g_hash_table_size(((const ServeMhd *)port)->open);
}

static void serve_free(ServeMhd *serve)
{
    g_hash_table_unref(serve->peers);
    g_hash_table_unref(serve->open);
    g_ptr_array_unref(serve->streams);
    g_free(serve->path);
    g_free(serve->certificate);
    if (serve->key != NULL) explicit_bzero(serve->key, strlen(serve->key));
    g_free(serve->key);
    g_free(serve);
}

static void handle_closed(uv_handle_t *handle)
{
    ServeMhd *serve = handle->data;
    if (--serve->handles == 0) serve_free(serve);
}

static void stop_listening(ServeMhd *serve)
{
    int fd = MHD_quiesce_daemon(serve->daemon);
    if (fd >= 0) close(fd);
    struct stat found;
    if (serve->path != NULL && lstat(serve->path, &found) == 0 &&
        found.st_dev == serve->path_device && found.st_ino == serve->path_inode)
        unlink(serve->path);
}

/* Nothing suspended may be left when libmicrohttpd stops: it takes that for a bug and aborts. */
static void farewell(ServeMhd *serve)
{
    stop_listening(serve);
    serve->inside = true;
    g_autoptr(GList) open = g_hash_table_get_keys(serve->open);
    for (GList *link = open; link != NULL; link = link->next)
        visit_turn_away(link->data);
    streams_end(serve);
    for (int i = 0;
         i < FAREWELL_RUNS && (g_hash_table_size(serve->open) > 0 || serve->streams->len > 0); i++)
        MHD_run(serve->daemon);
    uv_close((uv_handle_t *)&serve->poll, handle_closed);
    uv_close((uv_handle_t *)&serve->timer, handle_closed);
    uv_close((uv_handle_t *)&serve->sweep, handle_closed);
    uv_close((uv_handle_t *)&serve->pulse, handle_closed);
    MHD_stop_daemon(serve->daemon);
}

static void shut(Serve *port)
{
    ServeMhd *serve = (ServeMhd *)port;
    serve->closing = true;
    if (!serve->inside) farewell(serve);
}

static Serve *serve_new(uv_loop_t *loop, int fd, const char *certificate, const char *key,
                        const ServeLimits *limits, ServeHandler *handler, void *context, char **why)
{
    g_assert(limits->connections_max > 0 && limits->idle_timeout_s > 0);
    ServeMhd *serve = g_new0(ServeMhd, 1);
    serve->port = (Serve){shut, open_requests};
    serve->loop = loop;
    serve->limits = *limits;
    serve->handler = handler;
    serve->context = context;
    serve->peers = g_hash_table_new(NULL, NULL);
    serve->open = g_hash_table_new(NULL, NULL);
    serve->streams = g_ptr_array_new();
    serve->poll.data = serve->timer.data = serve->sweep.data = serve->pulse.data = serve;
    serve->certificate = g_strdup(certificate);
    serve->key = g_strdup(key);
    serve->daemon = daemon_new(serve, fd);
    if (serve->daemon == NULL) {
        *why = g_strdup(certificate != NULL ? "libmicrohttpd cannot be set up with that certificate"
                                            : "libmicrohttpd cannot be set up");
        close(fd);
        serve_free(serve);
        return NULL;
    }
    int epoll_fd = MHD_get_daemon_info(serve->daemon, MHD_DAEMON_INFO_EPOLL_FD)->epoll_fd;
    uv_timer_init(loop, &serve->timer);
    uv_timer_init(loop, &serve->sweep);
    uv_timer_init(loop, &serve->pulse);
    uv_poll_init(loop, &serve->poll, epoll_fd);
    uv_poll_start(&serve->poll, UV_READABLE, ready);
    serve->handles = 4;
    return &serve->port;
}

Serve *serve_tls_new(uv_loop_t *loop, const char *listen, const char *certificate, const char *key,
                     const ServeLimits *limits, ServeHandler *handler, void *context, char **why)
{
    int port;
    int fd = listen_tcp(listen, &port, why);
    if (fd < 0) return NULL;
    Serve *serve = serve_new(loop, fd, certificate, key, limits, handler, context, why);
    if (serve != NULL) ((ServeMhd *)serve)->tcp_port = port;
    return serve;
}

Serve *serve_tcp_new(uv_loop_t *loop, const char *listen, const ServeLimits *limits,
                     ServeHandler *handler, void *context, char **why)
{
    return serve_tls_new(loop, listen, NULL, NULL, limits, handler, context, why);
}

Serve *serve_unix_new(uv_loop_t *loop, const char *path, int mode, const ServeLimits *limits,
                      ServeHandler *handler, void *context, char **why)
{
    int fd = listen_unix(path, mode, why);
    if (fd < 0) return NULL;
    ServeMhd *serve = (ServeMhd *)serve_new(loop, fd, NULL, NULL, limits, handler, context, why);
    if (serve == NULL) return NULL;
    struct stat made;
    serve->path = g_strdup(path);
    if (lstat(path, &made) == 0) {
        serve->path_device = made.st_dev;
        serve->path_inode = made.st_ino;
    }
    return &serve->port;
}

int serve_port(const Serve *serve)
{
    return ((const ServeMhd *)serve)->tcp_port;
}
