/* SPDX-License-Identifier: Apache-2.0 */
/* Accounts of the page as jobs see them. Store thread, but for account_key. */
#ifndef OSIER_DAEMON_PAGE_ACCOUNT_H
#define OSIER_DAEMON_PAGE_ACCOUNT_H

#include "daemon/desk/desk.h"

/* A name as it is compared: case and surplus spaces do not matter (g_free). */
char *account_key(const char *name);

/* The open account that has a one-time link of that token, which has not run out; or NULL. */
Row *account_invited(Job *job, const char *token);

/* Sets the password's hash and uses the link up. */
void account_enter(Job *job, Row *account, const char *hash);

#endif
