/* SPDX-License-Identifier: Apache-2.0 */
/* How fast a gateway takes messages, told by spans of a tenth of a second. */
#ifndef OSIER_DAEMON_RELAY_PACE_H
#define OSIER_DAEMON_RELAY_PACE_H

#include <stdint.h>

/* All zero to begin with. */
typedef struct {
    int64_t began_ms; /* the span */
    int sent;         /* in it so far */
    int before;       /* in the span before it */
} Pace;

/* One message leaves. */
void pace_note(Pace *pace, int64_t now_ms);

/* How many left in the last whole span; 0 where none did, or the clock was set back. */
int pace_per_span(Pace *pace, int64_t now_ms);

#endif
