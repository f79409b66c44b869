/* SPDX-License-Identifier: Apache-2.0 */
/* What the latest screen of a client found, and whether a fresh one is due. Store thread. */
#ifndef OSIER_DAEMON_DESK_SCREENED_H
#define OSIER_DAEMON_DESK_SCREENED_H

#include "core/practice/start.h"
#include "daemon/desk/desk.h"

typedef struct {
    Row *row; /* NULL: nobody has screened this client, and found says that nothing is allowed */
    ScreenFound found;
    bool due; /* hospital, fracture or operation since, or no screen at all */
    json_t *texts;
    const char **findings; /* lent to found */
} Screened;

Screened *screened_load(Job *job, const char *client);
void screened_free(Screened *screened);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(Screened, screened_free)

#endif
