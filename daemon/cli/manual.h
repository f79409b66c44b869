/* SPDX-License-Identifier: Apache-2.0 */
/* The manual page and the shell's completion, made from the same table as the help, so that they cannot differ from it. */
#ifndef OSIER_DAEMON_CLI_MANUAL_H
#define OSIER_DAEMON_CLI_MANUAL_H

#include "daemon/cli/cli.h"

/* osier(1) for man(7), on standard output. commands ends with NULL. */
void manual_page(const Command *const *commands);

/* A completion for bash, on standard output: commands, their second words, and the options that their usage names. */
void manual_completion(const Command *const *commands);

#endif
