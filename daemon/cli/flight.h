/* SPDX-License-Identifier: Apache-2.0 */
/* Several calls to osierd on their way at once, so that reading the next part and working on the last go on side by side, and
 * osierd commits what has queued up together. Answers are heard in the order of the calls. */
#ifndef OSIER_DAEMON_CLI_FLIGHT_H
#define OSIER_DAEMON_CLI_FLIGHT_H

#include "daemon/cli/cli.h"

typedef struct Flight Flight;

/* Hears an answer (lent). about is what the call was given. */
typedef void FlightHeard(const json_t *answer, void *about);

/* heard may be NULL. forget frees an about, whether heard or not; NULL: nothing is freed. */
Flight *flight_new(const Cli *cli, FlightHeard *heard, GDestroyNotify forget);

/* Sends a POST; body (NULL: as for remote_call) and about are taken over. Waits where too many are on their way. EXIT_OK, or the
 * code of the first call that failed, told once; after that nothing more is sent. */
int flight_post(Flight *flight, const char *path, json_t *body, void *about);

/* Waits for all that are on their way, and frees. EXIT_OK or the first failure's code. */
int flight_end(Flight *flight);

#endif
