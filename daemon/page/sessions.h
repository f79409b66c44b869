/* SPDX-License-Identifier: Apache-2.0 */
/* Who is logged in at the clinic's page. Kept in memory: a restart logs everybody out. Time is handed
 * in, in milliseconds of a clock that only goes forward. */
#ifndef OSIER_DAEMON_PAGE_SESSIONS_H
#define OSIER_DAEMON_PAGE_SESSIONS_H

#include <glib.h>
#include <stdbool.h>
#include <stdint.h>

typedef struct {
    char *key;   /* the account's */
    char *name;  /* as it stands in the record */
    bool desk;   /* else a clinician */
    char *token; /* what a change must carry beside the cookie */
    int64_t born_ms;
    int64_t used_ms;
    GHashTable *noted; /* what was looked at -> when it was last written down */
} PageSession;

typedef struct Sessions Sessions;

/* idle_ms without a person's doing ends a session, and so does life_ms in all. */
Sessions *sessions_new(int64_t idle_ms, int64_t life_ms);
void sessions_free(Sessions *sessions);

void sessions_set_idle(Sessions *sessions, int64_t idle_ms);

/* Logs in: the cookie's value (g_free). Each account has ten at most; the one unused for longest
 * makes room. */
char *sessions_open(Sessions *sessions, const char *key, const char *name, bool desk,
                    int64_t now_ms);

/* The session of a cookie, or NULL where there is none (any more). Lives until it ends or the next
 * call of a function here. touch: a person did something, so the idle time begins anew. */
PageSession *sessions_find(Sessions *sessions, const char *cookie, int64_t now_ms, bool touch);

/* Should this look be written down? Once in ten minutes for the same thing is enough. */
bool session_notes(PageSession *session, const char *what, int64_t now_ms);

/* Logs out: one; all of an account. */
void sessions_end(Sessions *sessions, const char *cookie);
void sessions_end_of(Sessions *sessions, const char *key);

#endif
