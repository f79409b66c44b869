/* SPDX-License-Identifier: Apache-2.0 */
/* What a rehearsal shows while it runs: the day on one line, each alert as it is raised, the week at the end. */
#ifndef OSIER_DAEMON_REHEARSAL_PROGRESS_H
#define OSIER_DAEMON_REHEARSAL_PROGRESS_H

#include "daemon/rehearsal/harvest.h"

typedef struct Progress Progress;

/* quiet: shows nothing. */
Progress *progress_new(bool quiet, const Clinic *clinic, Day from, int days);
void progress_free(Progress *progress);

/* The rehearsal has come to an instant. */
void progress_at(Progress *progress, World *world, int64_t at_ms);

/* The last day is over. */
void progress_end(Progress *progress, World *world);

/* The digest, the figures and where everything lies. */
void progress_report(const Harvest *harvest, const World *world, const char *out, int64_t end_ms);

#endif
