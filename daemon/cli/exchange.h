/* SPDX-License-Identifier: Apache-2.0 */
/* What every exchange with osierd's socket has in common. */
#ifndef OSIER_DAEMON_CLI_EXCHANGE_H
#define OSIER_DAEMON_CLI_EXCHANGE_H

#include <curl/curl.h>

#include "daemon/cli/cli.h"

/* Sets a handle up. url and text (NULL: no body) are lent until it is over, as are bytes, which take the answer. EXIT_OK, or the
 * code after saying what is wrong. */
int exchange_ready(const Cli *cli, CURL *curl, const char *method, const char *url,
                   const char *text, GString *bytes);

/* How it went: EXIT_OK with the HTTP status, or the code after saying what is wrong. */
int exchange_over(const Cli *cli, CURL *curl, CURLcode result, long *status);

/* The document of an answer (new reference), or NULL after saying what is wrong, with the code. */
json_t *exchange_answer(const Cli *cli, const GString *bytes, long status, int *code);

#endif
