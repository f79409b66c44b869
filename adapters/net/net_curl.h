/* SPDX-License-Identifier: Apache-2.0 */
/* The net port on libcurl's multi interface, driven by libuv. */
#ifndef OSIER_ADAPTERS_NET_NET_CURL_H
#define OSIER_ADAPTERS_NET_NET_CURL_H

#include <uv.h>

#include "adapters/net/net.h"

typedef struct {
    bool loopback_only; /* refuse, by the socket's address, whatever is not loopback */
    int64_t (*wall_ms)(
        void *context); /* the clock that end_ms is judged by; any thread may call it */
    void *wall_context;
    const char *ca_file;  /* extra trusted certificates (PEM), or NULL */
    long connections_max; /* kept and open at once, 1 to 256 */
} NetCurlOptions;

/* NULL, with *why (g_free), where libcurl cannot be set up. Certificates are verified by the real
 * clock, always. Only the protocols http, https, smtp, smtps, imap, imaps; no redirects. A silent
 * second send of a request that is not repeatable is refused in the pre-request callback, as is one
 * whose end_ms has passed. */
Net *net_curl_new(uv_loop_t *loop, const NetCurlOptions *options, char **why);

#endif
