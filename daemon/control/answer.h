/* SPDX-License-Identifier: Apache-2.0 */
/* How the daemon answers a call of its JSON API: a document, or what is wrong with the call. */
#ifndef OSIER_DAEMON_CONTROL_ANSWER_H
#define OSIER_DAEMON_CONTROL_ANSWER_H

#include <jansson.h>

#include "adapters/serve/serve.h"

/* The document stays the caller's. */
void answer_document(ServeRequest *request, int status, const json_t *document);

/* {"error": {"what", "value", "why", "exit"}}: exit is the code that the command line ends with. */
void answer_fault(ServeRequest *request, int status, int exit_code, const char *what,
                  const char *value, const char *why);

/* The HTTP status that goes with such a code (sysexits.h). */
int answer_status(int exit_code);

#endif
