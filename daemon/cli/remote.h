/* SPDX-License-Identifier: Apache-2.0 */
/* Calls a running osierd over its Unix socket. */
#ifndef OSIER_DAEMON_CLI_REMOTE_H
#define OSIER_DAEMON_CLI_REMOTE_H

#include "daemon/cli/cli.h"

/* One call. body: an object that is taken over (its fields go into the query of a GET). EXIT_OK
 * with *answer (new reference), else the exit code, after saying what is wrong. */
int remote_call(const Cli *cli, const char *method, const char *path, json_t *body,
                json_t **answer);

/* What a GET of a path answers, as it is: EXIT_OK with *text (g_free), else the exit code, after saying what is wrong. */
int remote_text(const Cli *cli, const char *path, char **text);

#endif
