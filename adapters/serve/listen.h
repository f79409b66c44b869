/* SPDX-License-Identifier: Apache-2.0 */
/* Listening sockets, ready for libmicrohttpd. Private to this folder. */
#ifndef OSIER_ADAPTERS_SERVE_LISTEN_H
#define OSIER_ADAPTERS_SERVE_LISTEN_H

/* A socket that listens on "ADDRESS:PORT" (numeric; IPv6 in brackets), with the port it got. -1 and
 * *why (g_free) where that cannot be. */
int listen_tcp(const char *address, int *port, char **why);

/* A socket that listens on a path with that mode. Replaces a socket file on which nobody listens.
 * -1 and *why (g_free) where somebody does, where something else is in the way, or where the path
 * is too long. */
int listen_unix(const char *path, int mode, char **why);

#endif
