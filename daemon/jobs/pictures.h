/* SPDX-License-Identifier: Apache-2.0 */
/* Gathers what pictures show of a client. Store thread. */
#ifndef OSIER_DAEMON_JOBS_PICTURES_H
#define OSIER_DAEMON_JOBS_PICTURES_H

#include "core/paper/handout.h"
#include "core/paper/picture.h"
#include "daemon/jobs/ready.h"

/* The measure that drawings go by: a straight leg raised, lying. */
#define LEG_RAISE "leg-raise"

/* The client's leg from hip to heel: as measured, else from stature; 0 where neither is known.
 * *estimated (may be NULL): from stature. */
double person_leg_cm(const Person *person, bool *estimated);

/* The leg raise of the plan's side, of both sides the lower one: the latest that a clinician measured,
 * else what the plan was set with; -1 where there is none. */
double person_angle_deg(Job *job, const Person *person);

/* How the client lies for a movement. NULL where that is not drawn. */
Picture *pictures_setup(Job *job, const Person *person, const Ready *ready,
                        const Movement *movement, const Pack *pack);

/* The movements of the client's stage, each with the set-up that the screen allows; without pictures. movements has room for
 * STAGE_MOVEMENTS_MAX. How many. */
int movements_lay_out(const Person *person, const Ready *ready, HandoutMovement *movements);

/* The local day to begin the course at: of the first session in from..to, but two weeks before its end
 * at the latest. */
Day pictures_begin(Job *job, const Person *person, Day from, Day to);

/* The course over the local days from..to. */
Picture *pictures_course(Job *job, const Person *person, Day from, Day to, const Pack *pack);

#endif
