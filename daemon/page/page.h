/* SPDX-License-Identifier: Apache-2.0 */
/* The clinic's page: listens once somebody may enter, lets people in, and hands what they ask for to
 * the JSON API under their name. */
#ifndef OSIER_DAEMON_PAGE_PAGE_H
#define OSIER_DAEMON_PAGE_PAGE_H

#include <uv.h>

#include "daemon/daemon.h"

typedef struct Page Page;

/* Listens as soon as there is an account. */
Page *page_new(uv_loop_t *loop, Daemon *daemon);

/* Stops listening and forgets who is logged in; the rest is freed as the loop turns. */
void page_close(Page *page);

/* The settings have changed: listens where they say now. */
void page_reload(Page *page);

/* Requests in hand, streams aside. */
int page_busy(const Page *page);

#endif
