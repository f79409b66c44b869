/* SPDX-License-Identifier: Apache-2.0 */
/* What one replica has for another, as a file to carry: parcels, signed by the one, sealed for the other. */
#ifndef OSIER_DAEMON_CLI_BUNDLE_H
#define OSIER_DAEMON_CLI_BUNDLE_H

#include "daemon/cli/cli.h"

/* osier sync export PEER FILE [--all], and import FILE; argv[0] is the second word. Exit codes. */
int bundle_export(const Cli *cli, int argc, char **argv);
int bundle_import(const Cli *cli, int argc, char **argv);

#endif
