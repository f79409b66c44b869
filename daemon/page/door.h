/* SPDX-License-Identifier: Apache-2.0 */
/* The door of the page: logging in and out, and setting a password by a one-time link. */
#ifndef OSIER_DAEMON_PAGE_DOOR_H
#define OSIER_DAEMON_PAGE_DOOR_H

#include <jansson.h>
#include <uv.h>

#include "adapters/page/guard.h"
#include "adapters/serve/serve.h"
#include "daemon/daemon.h"
#include "daemon/page/sessions.h"

typedef struct Door Door;

Door *door_new(uv_loop_t *loop, Daemon *daemon, Sessions *sessions);

/* No call before this is answered after it. */
void door_close(Door *door);

/* Who may enter: copies of the rows of open accounts (GPtrArray of Row), taken over. */
void door_set_accounts(Door *door, GPtrArray *accounts);

/* The guard that makes cookies; lent until the next one. */
void door_set_guard(Door *door, const Guard *guard);

/* POST /session {"name", "password"}; POST /welcome {"token", "password"}. body is lent. */
void door_log_in(Door *door, ServeRequest *request, const json_t *body);
void door_welcome(Door *door, ServeRequest *request, const json_t *body);

/* What a page must know of the session (or of there being none, session NULL), as JSON. */
json_t *door_session_json(const Door *door, const PageSession *session);

/* Answers an error as the JSON API words it. */
void door_refuse(ServeRequest *request, int status, const char *what, const char *why);

#endif
