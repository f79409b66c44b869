/* SPDX-License-Identifier: Apache-2.0 */
/* Copies of the clinic's store: by command, and each night where the settings ask for it. A night's copy is opened and
 * checked as a restore would, sealed where there is a key, and the oldest are dropped; a night that fails is an alert. */
#ifndef OSIER_DAEMON_KEEP_KEEP_H
#define OSIER_DAEMON_KEEP_KEEP_H

#include "daemon/desk/desk.h"

typedef struct Keep Keep;

/* dir: the clinic folder; copies lie in its backups/. loop: checks run in its workers; NULL: on the spot. */
Keep *keep_new(Desk *desk, const char *dir, uv_loop_t *loop);
void keep_free(Keep *keep);

/* Sets the next night's copy; where the last one is missing, it is made at once. Also after new settings. */
void keep_start(Keep *keep);
void keep_stop(Keep *keep);

/* Checks and seals in hand. */
int keep_busy(const Keep *keep);

/* Bytes that are left on the device of the clinic folder for who is not root; -1: it does not tell. */
int64_t keep_room(const Keep *keep);

/* A copy now, unchecked: file is its path, or NULL with one line on why there is none. Both are lent. */
typedef void KeepMade(const char *file, const char *problem, void *context);
void keep_copy(Keep *keep, KeepMade *made, void *context);

/* Somebody was erased, or may have been when osierd was stopped: copies that are not sealed may still hold the words. Where the store
 * says so, a new one is made, then they go; where none is kept, nothing is made. */
void keep_renew(Keep *keep);

/* {"at", "file", "problem"} of the last night, or null where nothing is kept at night (new reference). */
json_t *keep_json(const Keep *keep);

#endif
