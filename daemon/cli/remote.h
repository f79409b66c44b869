/* SPDX-License-Identifier: Apache-2.0 */
/* Calls a running osierd over its Unix socket. */
#ifndef OSIER_DAEMON_CLI_REMOTE_H
#define OSIER_DAEMON_CLI_REMOTE_H

#include "daemon/cli/cli.h"

/* One call. body: an object that is taken over (its fields go into the query of a GET); NULL where json_pack could make none, since a
 * text is no UTF-8. EXIT_OK with *answer (new reference), else the exit code, after saying what is wrong. */
int remote_call(const Cli *cli, const char *method, const char *path, json_t *body,
                json_t **answer);

/* What a GET of a path answers, as it is: EXIT_OK with *text (g_free), else the exit code, after saying what is wrong. */
int remote_text(const Cli *cli, const char *path, char **text);
/* One GET of what is no document, a picture or paper. The fields are taken over. EXIT_OK with *bytes
 * (g_bytes_unref), else as above. */
int remote_fetch(const Cli *cli, const char *path, json_t *fields, GBytes **bytes);

/* An id or a name as part of a path (g_free); NULL, after EXIT_NO_SUCH was said, where it is none that can be. */
char *remote_id(const char *id);

/* What is said of such a text: the code. */
int remote_no_text(void);

#endif
