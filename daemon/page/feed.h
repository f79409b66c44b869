/* SPDX-License-Identifier: Apache-2.0 */
/* The calendars that clients subscribe to: GET /calendar/TOKEN.ics, without a session, for a calendar program asks and not a
 * person. */
#ifndef OSIER_DAEMON_PAGE_FEED_H
#define OSIER_DAEMON_PAGE_FEED_H

#include <uv.h>

#include "adapters/serve/serve.h"
#include "daemon/daemon.h"

typedef struct Feed Feed;

Feed *feed_new(uv_loop_t *loop, Daemon *daemon);
void feed_free(Feed *feed);

/* Answers where the path is a calendar's: the file, 404 for a token that is none or no more, 429 for more requests than calendar
 * programs make. False where the path is another. */
bool feed_answer(Feed *feed, ServeRequest *request);

#endif
