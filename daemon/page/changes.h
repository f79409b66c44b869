/* SPDX-License-Identifier: Apache-2.0 */
/* Tells open pages that the record has moved, by server-sent events. What has changed they ask for
 * themselves, with their own rights. */
#ifndef OSIER_DAEMON_PAGE_CHANGES_H
#define OSIER_DAEMON_PAGE_CHANGES_H

#include <uv.h>

#include "adapters/serve/serve.h"

typedef struct Changes Changes;

Changes *changes_new(uv_loop_t *loop);

/* Call once no listener is left. */
void changes_close(Changes *changes);

/* Answers with a stream that lasts until the client leaves, or who, an account's key, is let go. */
void changes_listen(Changes *changes, ServeRequest *request, const char *who);

/* The record has moved: told once for all that moves within a third of a second. */
void changes_moved(Changes *changes);

/* Ends the streams of an account. */
void changes_let_go(Changes *changes, const char *who);

#endif
