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

/* Gives a folder to the user that the server runs as. */
void pg_server_own(const char *folder);

/* Makes what is written to a schema's events and meta fail so many times with that SQLSTATE. */
void pg_server_break(const char *schema, const char *state, int times);

/* Stops it at once, as a power cut would; starts it again with that setting ("name=value") beside its own, or NULL. */
void pg_server_stop(void);
void pg_server_start(const char *setting);

/* A second server that copies the first, as of now; then the first is gone for good and the second has its place, with nothing
 * that was written since: as a standby still, or promoted. */
void pg_server_copy(void);
void pg_server_fail_over(void);
void pg_server_promote(void);

#endif
