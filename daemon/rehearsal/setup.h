/* SPDX-License-Identifier: Apache-2.0 */
/* Enters the people into the clinic's books as a clinician would: client, consent, screen, plan. */
#ifndef OSIER_DAEMON_REHEARSAL_SETUP_H
#define OSIER_DAEMON_REHEARSAL_SETUP_H

#include "daemon/rehearsal/world.h"

/* False where the daemon refused something; the link's problem says what. */
bool setup_people(World *world);

/* Screens the client as the books have it. False where the daemon refused it. */
bool setup_screen(World *world, const Resident *who, const char *clinician);

/* The clinician who treats the client. */
const char *setup_clinician(const World *world, const Resident *who);

/* The times moved out of the clinic's quiet hours and held to its daily cap: "08:30,17:30"
 * (g_free). */
char *setup_times(const Clinic *clinic, const char *at);

#endif
