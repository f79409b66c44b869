/* SPDX-License-Identifier: Apache-2.0 */
/* Commands that fetch paper from osierd and write it to a file. */
#ifndef OSIER_DAEMON_CLI_PAPER_H
#define OSIER_DAEMON_CLI_PAPER_H

#include "daemon/cli/cli.h"

/* Writes a file for its owner alone, since it tells of people; one that is there is replaced, but a device, a pipe or a folder is
 * refused. EXIT_OK, or the code after saying why not. */
int paper_keep(const char *out, const char *data, gsize length);

/* Fetches the path with those fields, which are taken over, and keeps it as out. The exit code. */
int paper_write(const Cli *cli, const char *path, json_t *fields, const char *out);

#endif
