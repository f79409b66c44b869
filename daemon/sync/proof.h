/* SPDX-License-Identifier: Apache-2.0 */
/* The tables of a snapshot are its maker's word. After one was taken they are folded anew from the events and compared, in a program of
 * its own on a copy of the store, and until that has come out well this replica neither takes the duty to send nor hands a
 * snapshot on. Where they are not what the events give they are made anew. */
#ifndef OSIER_DAEMON_SYNC_PROOF_H
#define OSIER_DAEMON_SYNC_PROOF_H

#include <uv.h>

#include "daemon/desk/desk.h"

typedef struct Proof Proof;

/* folder: the clinic's. Nothing happens before proof_look. busy: counts what is in hand. */
Proof *proof_new(uv_loop_t *loop, Desk *desk, const char *folder, int *busy);
/* Where a snapshot was taken that nobody has looked over yet, it is looked over; else nothing happens. */
void proof_look(Proof *proof);
/* Words were erased: no copy of before stays. */
void proof_drop(Proof *proof);
void proof_stop(Proof *proof);
/* The loop must turn until proof_is_over. */
bool proof_is_over(const Proof *proof);
void proof_free(Proof *proof);

/* Inside a job: a snapshot was taken from that peer. */
void proof_note(Job *job, const char *from, int64_t events);
/* Has it still to come out well? */
bool proof_is_open(Job *job);
/* {"from", "at", "events", "state"} of the one that was taken, or null (new reference). state: unproved, proved, made-anew or unsound. */
json_t *proof_json(Job *job);

/* What the program does: folds the events of a copy anew and compares. Its exit code: 0 the tables are what the events give, 1
 * they are not, 2 more is wrong than tables, 3 it could not be found out. */
int proof_main(const char *file);

#endif
