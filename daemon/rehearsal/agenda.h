/* SPDX-License-Identifier: Apache-2.0 */
/* What the world means to do, and when: in order of time, and among equals in order of entry. */
#ifndef OSIER_DAEMON_REHEARSAL_AGENDA_H
#define OSIER_DAEMON_REHEARSAL_AGENDA_H

#include <glib.h>
#include <stdbool.h>
#include <stdint.h>

typedef struct Agenda Agenda;

/* Does one thing; subject is freed afterwards by what was given at entry. */
typedef void AgendaDo(void *world, void *subject);

Agenda *agenda_new(void);
void agenda_free(Agenda *agenda);

/* Enters a thing; subject is taken over, release may be NULL. */
void agenda_add(Agenda *agenda, int64_t at_ms, AgendaDo *act, void *subject,
                GDestroyNotify release);

/* The instant of the next thing; INT64_MAX where there is none. */
int64_t agenda_next(const Agenda *agenda);

/* Does the first thing if its time has come by now_ms. False where none has. */
bool agenda_step(Agenda *agenda, int64_t now_ms, void *world);

#endif
