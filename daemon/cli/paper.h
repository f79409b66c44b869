/* SPDX-License-Identifier: Apache-2.0 */
/* Commands that fetch paper from osierd and write it to a file. */
#ifndef OSIER_DAEMON_CLI_PAPER_H
#define OSIER_DAEMON_CLI_PAPER_H

#include "daemon/cli/cli.h"

/* Fetches the path with those fields, which are taken over, and writes it to out, readable for its
 * owner alone. The exit code. */
int paper_write(const Cli *cli, const char *path, json_t *fields, const char *out);

#endif
