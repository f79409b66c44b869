/* SPDX-License-Identifier: Apache-2.0 */
/* A client that sends what a test tells it, byte by byte if need be, on the test's own loop. */
#ifndef OSIER_TESTS_SUPPORT_RAW_CLIENT_H
#define OSIER_TESTS_SUPPORT_RAW_CLIENT_H

#include <glib.h>
#include <stdbool.h>
#include <uv.h>

typedef struct RawClient RawClient;

RawClient *raw_client_tcp(uv_loop_t *loop, int port);
RawClient *raw_client_tcp_from(uv_loop_t *loop, const char *own_address, int port);
RawClient *raw_client_unix(uv_loop_t *loop, const char *path);
void raw_client_send(RawClient *client, const char *bytes, size_t length);

/* Runs the loop until a whole HTTP answer is there and takes it: its status, and the body where
 * body is not NULL (g_bytes_unref). 0 where the other side ended the connection instead. */
int raw_client_answer(RawClient *client, GBytes **body);

/* The last answer's head. */
const char *raw_client_head(const RawClient *client);

/* Runs the loop until the other side has ended the connection. */
void raw_client_wait_end(RawClient *client);

void raw_client_close(RawClient *client); /* frees once the loop has run */

#endif
