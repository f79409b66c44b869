/* SPDX-License-Identifier: Apache-2.0 */
/* The spool: messages as files in a folder, for a clinic that sends nothing yet. */
#ifndef OSIER_ADAPTERS_FILES_SPOOL_H
#define OSIER_ADAPTERS_FILES_SPOOL_H

#include "core/wire/message.h"

/* Writes DIR/INSTANT-ID.txt (mode 0600) whole or not at all; a file of that message that is there
 * already is left as it is. False and *why (g_free) where it cannot. */
bool spool_write(const char *dir, const Outgoing *message, int64_t now_ms, char **why);

#endif
