/* SPDX-License-Identifier: Apache-2.0 */
/* The driver on PostgreSQL: libpq in pipeline mode, so that what needs no answer waits for none. */
#ifndef OSIER_ADAPTERS_STORE_POSTGRES_H
#define OSIER_ADAPTERS_STORE_POSTGRES_H

#include "adapters/store/driver.h"

/* Connects by a connection string of libpq, with a password or NULL, and uses that schema, which need not be there yet. NULL:
 * *why is one line (g_free): the server does not answer, or does not keep what it was given. */
Driver *postgres_driver_new(const char *connect, const char *password, const char *schema,
                            char **why);

/* What the server says to a query of one value (g_free), outside any transaction; NULL for no row, null or an error. argument
 * is its $1 where it has one, else NULL. */
char *postgres_ask(Driver *driver, const char *query, const char *argument);

/* Runs a command, which may be several. False: *why is one line (g_free). */
bool postgres_command(Driver *driver, const char *command, char **why);

/* Counts commits from here on, in the schema and, where file is not NULL, in that file as well, so that a server that lacks some
 * of those that were kept is known, also after a restart of this process. False: *why is one line (g_free). */
bool postgres_fence(Driver *driver, const char *file, char **why);

/* Is the schema the working of one process at a time: takes it for this connection, also when it is made anew. False where
 * another has it. */
bool postgres_take(Driver *driver);

/* Does any connection have it? Takes nothing. False: *why is one line (g_free). */
bool postgres_is_taken(Driver *driver, bool *taken, char **why);

/* For a process that only looks: keeps in that file (NULL: nowhere) how many commits the schema has, which need not have a
 * count yet. False: the file knows of more than the server has, or the server does not say; *why is one line (g_free). */
bool postgres_heed_fence(Driver *driver, const char *file, char **why);

#endif
