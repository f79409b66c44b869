/* SPDX-License-Identifier: Apache-2.0 */
/* What went wrong with the gateways' posts: signatures that do not hold, and receipts that mean nothing. Told in status and metrics;
 * where for an hour none was accepted and all were refused, a clinician hears of it: once, and once a day at most, for a stranger
 * can make that happen too. On the loop. */
#ifndef OSIER_DAEMON_INTAKE_HOOK_WATCH_H
#define OSIER_DAEMON_INTAKE_HOOK_WATCH_H

#include "daemon/desk/desk.h"

typedef struct HookWatch HookWatch;

HookWatch *hook_watch_new(Desk *desk);
void hook_watch_free(HookWatch *watch);

/* A post at a path of this gateway's: its signature holds, or does not. */
void hook_watch_held(HookWatch *watch, const char *gateway);
void hook_watch_refused(HookWatch *watch, const char *gateway);

/* A signed receipt that cannot be read, or names no message. */
void hook_watch_odd(HookWatch *watch, const char *gateway);

/* For each gateway that posted: {"name", "refused": number, "since": instant of the first that was refused since the last was
 * accepted, or null, "last": of the last, "unreadable": number of receipts, "unreadable_last"} (new reference). */
json_t *hook_watch_json(const HookWatch *watch);

#endif
