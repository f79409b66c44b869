/* SPDX-License-Identifier: Apache-2.0 */
/* The commands under osier records, by the file that holds them. argv[0] is the second word. */
#ifndef OSIER_DAEMON_CLI_RECORDS_H
#define OSIER_DAEMON_CLI_RECORDS_H

#include "daemon/cli/cli.h"

int records_import(const Cli *cli, int argc, char **argv);
int records_imports(const Cli *cli, int argc, char **argv);
int records_undo(const Cli *cli, int argc, char **argv);
int records_export(const Cli *cli, int argc, char **argv);

#endif
