/* SPDX-License-Identifier: Apache-2.0 */
/* One gateway at work: messages claimed for it and held ready, those in flight, its brakes, and the refusals of which it
 * is not yet known whose fault they are. */
#ifndef OSIER_DAEMON_RELAY_LINE_H
#define OSIER_DAEMON_RELAY_LINE_H

#include "adapters/net/net.h"
#include "daemon/relay/courier.h"
#include "daemon/relay/reach.h"
#include "daemon/relay/recorder.h"

typedef struct Line Line;

/* What all lines of a relay share. */
typedef struct {
    Desk *desk;
    Net *net;
    Recorder *recorder;
    Reach *reach;
    CourierShare couriers;
    char *spool_dir;
    bool one_at_a_time;
    int exchanges;                /* in flight on all lines */
    bool turned;                  /* set when a gateway has fallen sick or is well again */
    void (*moved)(void *context); /* an exchange has ended: there may be more to do */
    void *context;
} LineShare;

Line *line_new(LineShare *share, const Gateway *gateway);
void line_free(Line *line);

/* Takes in changed settings of its gateway. */
void line_update(Line *line, const Gateway *gateway);

/* Has its gateway left the settings? Then nothing is claimed for it. */
bool line_has_left(const Line *line);

const char *line_name(const Line *line);

/* Is its gateway well, and can it be reached? */
bool line_is_up(const Line *line);

/* Why what is for it waits, in words for people (g_free); NULL where it is up. */
char *line_why(const Line *line);

/* Has it been told that its gateway is sick, and is it still? */
bool line_is_blamed(const Line *line);

/* The clinic's line is back: an illness that may have come of that is forgotten. */
void line_revive(Line *line);

/* The clinic's line is found to be up, so a gateway that could not be reached is itself at fault. */
void line_blame(Line *line);

/* How many messages to claim for it now; 0 with *again_ms lowered to when to ask again. What is promised counts; while a claim
 * job is under way there is no room for a second one. */
int line_room(Line *line, int64_t now_ms, int64_t *again_ms);
void line_claiming(Line *line, bool claiming);

/* How many may be claimed for it as they are made, in a page of at most so many. */
int line_room_for_grant(Line *line, int64_t now_ms, int most);

/* So many more (or, below 0, fewer) are being claimed for it. */
void line_promise(Line *line, int change);

/* Claims (of Claim) are taken over. */
void line_take(Line *line, GPtrArray *claims);

/* Until then nothing that is its own to take will come due (CLOCK_NEVER: nothing waits; 0: not known). */
void line_rest_until(Line *line, int64_t at_ms);
int64_t line_rests_until(const Line *line);

/* Gives ready messages to the net as the brakes allow; *again_ms is lowered to when to call again. Doubts that have
 * lasted long enough are settled. */
void line_send(Line *line, int64_t now_ms, int64_t *again_ms);

/* Gives back what is ready for these clients (of ids). */
void line_recall(Line *line, const GPtrArray *clients);

/* Gives back what is ready, settles the doubts, and holds nothing from now on. */
void line_stop(Line *line);

/* A gateway that is a program runs only while it is wanted. */
void line_want(Line *line, bool runs);

/* Messages in hand. */
int line_busy(const Line *line);

json_t *line_json(const Line *line);

#endif
