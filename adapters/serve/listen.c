/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/serve/listen.h"

#include <arpa/inet.h>
#include <errno.h>
#include <glib.h>
#include <netinet/in.h>
#include <stdbool.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <unistd.h>

enum { BACKLOG = 128 };

typedef struct {
    union {
        struct sockaddr any;
        struct sockaddr_in four;
        struct sockaddr_in6 six;
    };
    socklen_t length;
} Address;

/* "127.0.0.1:8750" or "[::1]:8750". */
static bool read_address(const char *text, Address *address)
{
    const char *colon = strrchr(text, ':');
    guint64 port;
    if (colon == NULL || !g_ascii_string_to_unsigned(colon + 1, 10, 0, 65535, &port, NULL))
        return false;
    g_autofree char *host = g_strndup(text, (gsize)(colon - text));
    size_t length = strlen(host);
    memset(address, 0, sizeof *address);
    if (length > 2 && host[0] == '[' && host[length - 1] == ']') {
        host[length - 1] = '\0';
        address->six.sin6_family = AF_INET6;
        address->six.sin6_port = htons((uint16_t)port);
        address->length = sizeof address->six;
        return inet_pton(AF_INET6, host + 1, &address->six.sin6_addr) == 1;
    }
    address->four.sin_family = AF_INET;
    address->four.sin_port = htons((uint16_t)port);
    address->length = sizeof address->four;
    return inet_pton(AF_INET, host, &address->four.sin_addr) == 1;
}

static int give_up(int fd, const char *where, char **why)
{
    *why = g_strdup_printf("cannot listen on '%s': %s", where, g_strerror(errno));
    if (fd >= 0) close(fd);
    return -1;
}

int listen_tcp(const char *text, int *port, char **why)
{
    Address address;
    if (!read_address(text, &address)) {
        *why = g_strdup_printf(
            "'%s' is no address to listen on; write 127.0.0.1:8750 or [::1]:8750", text);
        return -1;
    }
    int on = 1;
    int fd = socket(address.any.sa_family, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    if (fd < 0 || setsockopt(fd, SOL_SOCKET, SO_REUSEADDR, &on, sizeof on) != 0)
        return give_up(fd, text, why);
    if (address.any.sa_family == AF_INET6 &&
        setsockopt(fd, IPPROTO_IPV6, IPV6_V6ONLY, &on, sizeof on) != 0)
        return give_up(fd, text, why);
    if (bind(fd, &address.any, address.length) != 0 || listen(fd, BACKLOG) != 0 ||
        getsockname(fd, &address.any, &address.length) != 0)
        return give_up(fd, text, why);
    *port =
        ntohs(address.any.sa_family == AF_INET6 ? address.six.sin6_port : address.four.sin_port);
    return fd;
}

/* A socket file outlives a process that was killed. Only a connection tells whether somebody still
 * listens. */
static bool clear_the_way(const char *path, const struct sockaddr_un *address, char **why)
{
    struct stat found;
    if (lstat(path, &found) != 0 && errno == ENOENT) return true;
    if (!S_ISSOCK(found.st_mode)) {
        *why = g_strdup_printf("'%s' is in the way and is no socket; move it away", path);
        return false;
    }
    int fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    bool deserted = fd >= 0 &&
                    connect(fd, (const struct sockaddr *)address, sizeof *address) != 0 &&
                    errno == ECONNREFUSED;
    if (fd >= 0) close(fd);
    if (deserted && unlink(path) == 0) return true;
    *why = g_strdup_printf("somebody already listens on '%s'", path);
    return false;
}

int listen_unix(const char *path, int mode, char **why)
{
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    size_t length = strlen(path);
    if (length == 0 || length >= sizeof address.sun_path) {
        *why = g_strdup_printf("the path '%s' has %zu bytes; a socket's may have %zu", path, length,
                               sizeof address.sun_path - 1);
        return -1;
    }
    memcpy(address.sun_path, path, length);
    if (!clear_the_way(path, &address, why)) return -1;
    int fd = socket(AF_UNIX, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    /* The file is born with the socket's own mode less the umask, so it is never wider than asked
     * for. */
    if (fd < 0 || fchmod(fd, (mode_t)mode) != 0 ||
        bind(fd, (struct sockaddr *)&address, sizeof address) != 0)
        return give_up(fd, path, why);
    if (chmod(path, (mode_t)mode) != 0 || listen(fd, BACKLOG) != 0) {
        unlink(path);
        return give_up(fd, path, why);
    }
    return fd;
}
