/* SPDX-License-Identifier: Apache-2.0 */
/* Programmes and language packs as clinics pass them on: the file as it stands, below a head of comments that says what it is,
 * where it came from, and the SHA-256 of all that follows the head, so that a change on the way shows. The head is YAML's own
 * comment, so such a file is read like any other. */
#ifndef OSIER_ADAPTERS_FILES_PASSED_H
#define OSIER_ADAPTERS_FILES_PASSED_H

#include <glib.h>
#include <stdbool.h>

/* Through so many hands at most is told. */
#define PASSED_FROM_MAX 20

typedef struct {
    char *what; /* "programme calf-and-hamstring", or NULL: the text has no head */
    GPtrArray
        *from;  /* of char *: "Withy Lane Physio, 2026-03-02, M. Adeyemi", the first hand first */
    char *note; /* or NULL */
    char *checksum; /* as it is written; NULL where the head names none */
    bool changed;   /* it is not that of what follows */
} PassedHead;

/* Reads the head of a file's text; *body is what follows it, lent, or the text itself. Never fails: what is no head is none. */
void passed_read(const char *text, PassedHead *head, const char **body);
void passed_clear(PassedHead *head);

/* A file of body under a head (g_free). Its lines are cut and cleaned; the checksum is worked out anew. */
char *passed_write(const PassedHead *head, const char *body);

/* "Withy Lane Physio, 2026-03-02, M. Adeyemi" (g_free); by may be NULL. */
char *passed_hand(const char *clinic, const char *date, const char *by);

/* The checksum of a file's body as lower-case hex (g_free). */
char *passed_checksum(const char *body);

#endif
