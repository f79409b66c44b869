/* SPDX-License-Identifier: Apache-2.0 */
/* A clinic's folder made ready for a rehearsal: the same settings, programmes and languages, every
 * address one of the stand-ins', every secret a dummy. */
#ifndef OSIER_DAEMON_REHEARSAL_WORKING_COPY_H
#define OSIER_DAEMON_REHEARSAL_WORKING_COPY_H

#include <glib.h>
#include <jansson.h>
#include <stdbool.h>

/* Ports of 127.0.0.1: of the stand-ins, and free ones for osierd to listen on. */
typedef struct {
    int gateway;
    int mail;    /* SMTP */
    int mailbox; /* IMAP */
    int hooks;
    int page;
} Places;

/* Changes the tree of a clinic.yaml. Gateways that would send nothing (spool) are left out; where
 * none for texts or none for mail is left, one of the stand-ins' own is added. */
void settings_redirect(json_t *root, const Places *places);

/* The names of the secrets that texts in the tree ask for: of text, sorted, each once. */
GPtrArray *settings_secrets_named(json_t *root);

/* Makes the copy of folder in dir, which is there and empty. False with lines in messages (of char
 * *) otherwise. */
bool working_copy_make(const char *folder, const char *dir, const Places *places,
                       GPtrArray *messages);

#endif
