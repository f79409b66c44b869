/* SPDX-License-Identifier: Apache-2.0 */
/* A desk over the store's twin, without a loop: from Monday 2 March 2026 at eight, UTC, in a folder of its own. */
#ifndef OSIER_TESTS_SUPPORT_TWIN_DESK_H
#define OSIER_TESTS_SUPPORT_TWIN_DESK_H

#include "daemon/desk/desk.h"

typedef struct {
    char *folder;
    Settings *settings;
    Clock *clock;
    Random *random;
    Store *store;
    Desk *desk;
} TwinDesk;

/* gateways: the section of that name in place of the usual one, or NULL. */
void twin_desk_open(TwinDesk *twin, const char *gateways);

/* Runs what was submitted, and what follows. */
void twin_desk_settle(TwinDesk *twin);

/* What stands on the desk goes before. */
void twin_desk_close(TwinDesk *twin);

#endif
