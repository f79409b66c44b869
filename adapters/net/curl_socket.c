/* SPDX-License-Identifier: Apache-2.0 */
/* Sockets of libcurl under libuv. libuv allows one poll handle for each descriptor and aborts where
 * a polled descriptor is closed; libcurl watches, forgets and closes sockets in any order. So one
 * Watch owns each descriptor: made when the socket is opened, stopped when libcurl loses interest,
 * ended just before the descriptor is closed. libcurl also watches descriptors of its own (the
 * resolver's), which it opens and closes itself: their Watch lives from interest to removal. */
#include <arpa/inet.h>
#include <netinet/in.h>
#include <sys/socket.h>
#include <unistd.h>

#include "adapters/net/curl_inside.h"

typedef struct {
    uv_poll_t poll;
    NetCurl *net;
    curl_socket_t fd;
    bool ours;
} Watch;

static void watch_closed(uv_handle_t *handle)
{
    Watch *watch = (Watch *)handle;
    net_curl_let_go(watch->net);
    g_free(watch);
}

static void watch_end(Watch *watch)
{
    g_hash_table_remove(watch->net->watches, GINT_TO_POINTER(watch->fd));
    uv_close((uv_handle_t *)&watch->poll, watch_closed);
}

static Watch *watch_find(NetCurl *net, curl_socket_t fd)
{
    return g_hash_table_lookup(net->watches, GINT_TO_POINTER(fd));
}

static Watch *watch_new(NetCurl *net, curl_socket_t fd, bool ours)
{
    Watch *stale =
        watch_find(net, fd); /* libcurl closed it without a word and the number came back */
    if (stale != NULL) watch_end(stale);
    Watch *watch = g_new0(Watch, 1);
    if (uv_poll_init(net->loop, &watch->poll, fd) != 0) {
        g_free(watch);
        return NULL;
    }
    watch->net = net;
    watch->fd = fd;
    watch->ours = ours;
    net->held++;
    g_hash_table_insert(net->watches, GINT_TO_POINTER(fd), watch);
    return watch;
}

static bool is_loopback_four(struct in_addr address)
{
    return ntohl(address.s_addr) >> 24 == IN_LOOPBACKNET;
}

static bool is_loopback(const struct sockaddr *address)
{
    if (address->sa_family == AF_INET)
        return is_loopback_four(((const struct sockaddr_in *)address)->sin_addr);
    if (address->sa_family == AF_INET6)
        return IN6_IS_ADDR_LOOPBACK(&((const struct sockaddr_in6 *)address)->sin6_addr);
    return address->sa_family == AF_UNIX;
}

bool socket_host_is_loopback(const char *url)
{
    bool loopback = false;
    char *host = NULL;
    CURLU *parts = curl_url();
    struct in_addr four;
    struct in6_addr six;
    if (curl_url_set(parts, CURLUPART_URL, url, 0) == CURLUE_OK &&
        curl_url_get(parts, CURLUPART_HOST, &host, 0) == CURLUE_OK) {
        g_autofree char *bare = g_strdup(host[0] == '[' ? host + 1 : host);
        bare[strcspn(bare, "]%")] = '\0';
        loopback = g_ascii_strcasecmp(bare, "localhost") == 0 ||
                   (inet_pton(AF_INET, bare, &four) == 1 && is_loopback_four(four)) ||
                   (inet_pton(AF_INET6, bare, &six) == 1 && IN6_IS_ADDR_LOOPBACK(&six));
    }
    curl_free(host);
    curl_url_cleanup(parts);
    return loopback;
}

curl_socket_t socket_open(void *context, curlsocktype purpose, struct curl_sockaddr *address)
{
    Exchange *exchange = context;
    if (purpose != CURLSOCKTYPE_IPCXN) return CURL_SOCKET_BAD;
    if (exchange->net->options.loopback_only && !is_loopback(&address->addr)) {
        exchange->outside_refused = true;
        return CURL_SOCKET_BAD;
    }
    int fd = socket(address->family, address->socktype | SOCK_CLOEXEC | SOCK_NONBLOCK,
                    address->protocol);
    return fd < 0 ? CURL_SOCKET_BAD : fd;
}

curl_socket_t socket_open_watched(void *context, curlsocktype purpose,
                                  struct curl_sockaddr *address)
{
    curl_socket_t fd = socket_open(context, purpose, address);
    if (fd == CURL_SOCKET_BAD || watch_new(((Exchange *)context)->net, fd, true) != NULL) return fd;
    close(fd);
    return CURL_SOCKET_BAD;
}

int socket_close(void *context, curl_socket_t fd)
{
    Watch *watch = watch_find(context, fd);
    if (watch != NULL) watch_end(watch);
    return close(fd);
}

static void ready(uv_poll_t *poll, int status, int events)
{
    Watch *watch = (Watch *)poll;
    int flags = (events & UV_READABLE ? CURL_CSELECT_IN : 0) |
                (events & UV_WRITABLE ? CURL_CSELECT_OUT : 0);
    net_curl_act(watch->net, watch->fd, status < 0 ? CURL_CSELECT_ERR : flags);
}

int socket_watch(CURL *easy, curl_socket_t fd, int what, void *context, void *unused)
{
    (void)easy;
    (void)unused;
    NetCurl *net = context;
    Watch *watch = watch_find(net, fd);
    if (what == CURL_POLL_REMOVE) {
        if (watch == NULL) return 0;
        if (watch->ours)
            uv_poll_stop(&watch->poll);
        else
            watch_end(watch);
        return 0;
    }
    if (watch == NULL) watch = watch_new(net, fd, false);
    if (watch == NULL) return -1;
    int events = (what & CURL_POLL_IN ? UV_READABLE : 0) | (what & CURL_POLL_OUT ? UV_WRITABLE : 0);
    return uv_poll_start(&watch->poll, events, ready) == 0 ? 0 : -1;
}

void sockets_forget(NetCurl *net)
{
    g_autoptr(GList) left = g_hash_table_get_values(net->watches);
    for (GList *link = left; link != NULL; link = link->next)
        watch_end(link->data);
}
