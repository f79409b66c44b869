/* SPDX-License-Identifier: Apache-2.0 */
/* The serve port on libmicrohttpd (external epoll) driven by libuv. */
#ifndef OSIER_ADAPTERS_SERVE_SERVE_MHD_H
#define OSIER_ADAPTERS_SERVE_SERVE_MHD_H

#include <uv.h>

#include "adapters/serve/serve.h"

/* Listens on "127.0.0.1:8750" or "[::1]:8750" (port 0: any free one). NULL and *why (g_free) where
 * it cannot. */
Serve *serve_tcp_new(uv_loop_t *loop, const char *listen, const ServeLimits *limits,
                     ServeHandler *handler, void *context, char **why);

/* The same with TLS 1.3, under a certificate and its secret key (PEM), and with the other side asked for its own: see
 * serve_pin. */
Serve *serve_tls_new(uv_loop_t *loop, const char *listen, const char *certificate, const char *key,
                     const ServeLimits *limits, ServeHandler *handler, void *context, char **why);

/* Listens on a Unix socket of that path and mode; a stale socket file (nobody listening) is
 * replaced, a live one refused. A path longer than the system takes (107 bytes) is refused with its
 * length. */
Serve *serve_unix_new(uv_loop_t *loop, const char *path, int mode, const ServeLimits *limits,
                      ServeHandler *handler, void *context, char **why);

/* The port listened on, 0 for a Unix socket. */
int serve_port(const Serve *serve);

#endif
