/* SPDX-License-Identifier: Apache-2.0 */
/* Commands that ask a running osierd, as rows: the words, the call, its options, how the answer is
 * shown. */
#ifndef OSIER_DAEMON_CLI_ASK_H
#define OSIER_DAEMON_CLI_ASK_H

#include "daemon/cli/cli.h"

typedef enum {
    FIELD_TEXT,
    FIELD_NUMBER,
    FIELD_FLAG,
    FIELD_LIST /* may be given several times */
} FieldType;

typedef struct {
    const char *option; /* "angle-deg"; NULL ends a list */
    const char *field;  /* of the call's body */
    FieldType type;
} Field;

/* Shows an answer to a person on standard output. */
typedef void Show(const json_t *answer);

typedef struct {
    const char *word; /* second word, or NULL: the command alone */
    const char *method;
    const char *path;    /* "{id}" is filled from the words that follow */
    const Field *fields; /* NULL: none */
    Show *show;
    bool many; /* one call for each id */
} Ask;

/* Finds the row for the words (the one without a word if none fits), reads options, calls, shows. n
 * rows. */
int ask_run(const Cli *cli, const Command *command, const Ask *asks, int n, int argc, char **argv);

/* The shows. */
void show_plain(const json_t *answer); /* every field on a line, lists as blocks */
void show_client(const json_t *answer);
void show_clients(const json_t *answer);
void show_sessions(const json_t *answer);
void show_adherence(const json_t *answer);
void show_alerts(const json_t *answer);
void show_alert(const json_t *answer); /* one of them, after something was done with it */
void show_report(const json_t *answer);
void show_replies(const json_t *answer);
void show_messages(const json_t *answer);
void show_calls(const json_t *answer);
void show_why(const json_t *answer);
void show_status(const json_t *answer);
void show_measure(const json_t *answer);
void show_measures(const json_t *answer);
void show_ready(const json_t *answer);
void show_plan(const json_t *answer);

#endif
