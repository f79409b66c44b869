/* SPDX-License-Identifier: Apache-2.0 */
/* A real PostgreSQL server for one test program: started at first use in a folder of its own, heard on a Unix socket alone,
 * stopped and removed at the program's end. */
#ifndef OSIER_TESTS_SUPPORT_PG_SERVER_H
#define OSIER_TESTS_SUPPORT_PG_SERVER_H

#include <stdbool.h>

/* The connection string of its database, for libpq. Lent. */
const char *pg_server_connect(void);

/* Runs SQL as its owner; the first value of the last result, or NULL (g_free). An error ends the test. */
char *pg_server_run(const char *sql);

/* A schema's name that was not given before (g_free). */
char *pg_server_schema(void);

/* Makes what is written to a schema's events fail so many times with that SQLSTATE. */
void pg_server_break(const char *schema, const char *state, int times);

/* Stops it at once, as a power cut would; starts it again with that setting ("name=value") beside its own, or NULL. */
void pg_server_stop(void);
void pg_server_start(const char *setting);

#endif
