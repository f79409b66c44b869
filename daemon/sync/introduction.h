/* SPDX-License-Identifier: Apache-2.0 */
/* What two replicas say of themselves when they are paired, and what follows from it. In jobs, but for introduction_text and
 * introduction_fault. */
#ifndef OSIER_DAEMON_SYNC_INTRODUCTION_H
#define OSIER_DAEMON_SYNC_INTRODUCTION_H

#include "daemon/sync/sync_inside.h"

/* This replica as it introduces itself (new reference). */
json_t *introduction_own(Job *job, const Own *own);

/* A text of an introduction, lent by it; NULL where it is absent, no text, or has a NUL byte in it. */
const char *introduction_text(const json_t *object, const char *field);

/* NULL, or what is wrong with an introduction from somebody who holds that key (static text). */
const char *introduction_fault(const json_t *other, const char *pin);

/* Writes down the peer. Paired anew, it is known by its new key alone. address: where it listens, or NULL. */
void introduction_keep_peer(Job *job, const json_t *other, const char *pin, const char *address);

/* Two that each began a clinic become one: one of them has the duty to send from now on, by name. It stays with the one that shows
 * the code, unless that one is new and the other has the clients already: does the one that asks keep it, as the one that shows? */
bool introduction_keeps_duty(Job *job, const json_t *other);
void introduction_settle_duty(Job *job, bool keeps);

/* Is the other one of the same clinic, by its name? */
bool introduction_same_clinic(const Job *job, const json_t *other);

#endif
