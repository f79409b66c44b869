/* SPDX-License-Identifier: Apache-2.0 */
/* What a gateway's program writes to standard error, on its way into the log: ten lines a minute, then one that says how
 * many more there were. */
#ifndef OSIER_DAEMON_RELAY_MURMUR_H
#define OSIER_DAEMON_RELAY_MURMUR_H

#include "daemon/desk/desk.h"

enum { MURMUR_LINES_A_MINUTE = 10 };

typedef struct Murmur Murmur;

Murmur *murmur_new(Desk *desk, const char *gateway);
void murmur_free(Murmur *murmur);

/* One line, not always UTF-8. */
void murmur_add(Murmur *murmur, const char *line, size_t length);

/* The program has ended: what was left out is told now. The minute goes on, though it be started again. */
void murmur_end(Murmur *murmur);

#endif
