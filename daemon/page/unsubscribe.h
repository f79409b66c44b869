/* SPDX-License-Identifier: Apache-2.0 */
/* POST /unsubscribe/email/CLIENT/TOKEN, without a session: a mail program asks at one click of its reader (RFC 8058 section
 * 3.2), or a person by the button that a GET shows. A GET changes nothing, for programs that look through mail follow every
 * link. */
#ifndef OSIER_DAEMON_PAGE_UNSUBSCRIBE_H
#define OSIER_DAEMON_PAGE_UNSUBSCRIBE_H

#include <uv.h>

#include "adapters/serve/serve.h"
#include "daemon/daemon.h"

typedef struct Unsubscribe Unsubscribe;

Unsubscribe *unsubscribe_new(uv_loop_t *loop, Daemon *daemon);
void unsubscribe_free(Unsubscribe *unsubscribe);

/* Answers where the path is such a link: 200 once it is kept, 404 for a token that is none, 429 for more requests than readers
 * make, 503 where it cannot be kept now. False where the path is another. */
bool unsubscribe_answer(Unsubscribe *unsubscribe, ServeRequest *request);

#endif
