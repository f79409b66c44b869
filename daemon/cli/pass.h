/* SPDX-License-Identifier: Apache-2.0 */
/* Programmes and language packs as files that clinics pass on: what the commands of both share. */
#ifndef OSIER_DAEMON_CLI_PASS_H
#define OSIER_DAEMON_CLI_PASS_H

#include "adapters/files/passed.h"
#include "daemon/cli/cli.h"

/* One of the two kinds of file. */
typedef struct {
    const char *word; /* "programme" */
    const char *room; /* "programmes" */
    const Command *command;
    /* The key of a file that is right (g_free); else NULL, with a line for every fault. title (g_free) may stay NULL. */
    char *(*judge)(const char *path, char **title, GPtrArray *messages);
} PassKind;

/* The file of a key (g_free), or NULL. own: is it the clinic's? */
char *pass_find(const Cli *cli, const PassKind *kind, const char *key, bool *own);

/* Whose hands it went through (new reference). */
json_t *pass_hands(const PassedHead *head);

/* Lists what there is, with where it came from: EXIT_OK. */
int pass_list(const Cli *cli, const PassKind *kind);

#endif
