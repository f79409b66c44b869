/* SPDX-License-Identifier: Apache-2.0 */
/* The status as figures that machines gather: OpenMetrics text, version 1.0.0. Counts and
 * instants alone; labels are names of gateways, fates and classes, never of people. */
#ifndef OSIER_DAEMON_CONTROL_METRICS_H
#define OSIER_DAEMON_CONTROL_METRICS_H

#include <jansson.h>

#include "daemon/log/told.h"

#define METRICS_TYPE "application/openmetrics-text; version=1.0.0; charset=utf-8"

/* The text (g_free) of a status after health_add and of what was written since the start. */
char *metrics_text(const json_t *status, const Tally *tally);

#endif
