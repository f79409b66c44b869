/* SPDX-License-Identifier: Apache-2.0 */
/* What is told of each session, from all reports of it: a later one without numbers takes none away. Store thread.
 *
 * A number that may be pain stays open until a number is told for the pain, the same number for the stretch, or a person
 * settles the reply that said it. Words of pain without a number close it not, nor does another number by itself: "sorry, 3"
 * after "8" corrects the strength, but may as well be the stretch beside a pain of 8, and nobody has said that it did not
 * hurt. So it stays beside the 3, as its alert does. Of several that are open the highest counts. */
#ifndef OSIER_DAEMON_JOBS_SESSION_TOLD_H
#define OSIER_DAEMON_JOBS_SESSION_TOLD_H

#include "core/calendar/date.h"
#include "daemon/desk/desk.h"

/* Each is the latest that was told of it, for people correct themselves; -1: not told. */
typedef struct {
    /* The number open, else the stretch: what is shown, and what readiness is careful with. */
    double intensity;
    /* The last that was surely the stretch. */
    double stretch;
    double pain;
    /* A number of which nobody knows yet whether it was the stretch or pain; 0: none is open. */
    double bare;
    bool pain_some; /* pain without a number; pain is then -1 */
} SessionTold;

#define SESSION_UNTOLD ((SessionTold){.intensity = -1, .stretch = -1, .pain = -1})

/* By the ids of the client's sessions, from that local date on (g_hash_table_unref). */
GHashTable *session_told_load(Job *job, const char *client, Day from);

/* Of one session among them; of one that nothing is told of, too. */
SessionTold session_told_of(GHashTable *told, const char *session);

/* Adds "intensity" (or null), "pain" (a number as text, "some", or null) and "bare" (true where the intensity may be pain). */
void session_told_put(SessionTold told, json_t *document);

/* Is a report's number one of which nobody knew whether it was the stretch or pain, as it was read when its reply came, and has
 * no person settled that reply? Later replies are not looked at. */
bool report_was_bare(Job *job, const Row *report);

#endif
