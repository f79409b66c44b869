/* SPDX-License-Identifier: Apache-2.0 */
/* A copy of the clinic's store that an export reads while osierd works on. */
#ifndef OSIER_DAEMON_CLI_COPY_H
#define OSIER_DAEMON_CLI_COPY_H

#include "adapters/store/read.h"
#include "daemon/cli/cli.h"

typedef struct {
    Tx *tx;
    char *file;
} StoreCopy;

/* Asks osierd for a copy and opens it. EXIT_OK, or the code after saying why not. */
int copy_open(const Cli *cli, StoreCopy *copy);

/* Closes and removes it. code, or EXIT_IO after saying so where something could not be read. */
int copy_close(StoreCopy *copy, int code);

#endif
