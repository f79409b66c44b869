/* SPDX-License-Identifier: Apache-2.0 */
/* The osier command line: one row in a table for each command, one way to complain. */
#ifndef OSIER_DAEMON_CLI_CLI_H
#define OSIER_DAEMON_CLI_CLI_H

#include <glib.h>
#include <jansson.h>
#include <stdbool.h>

/* Exit codes, as in sysexits.h. */
enum {
    EXIT_OK = 0,
    EXIT_USE = 64,         /* usage */
    EXIT_DATA = 65,        /* bad data */
    EXIT_NO_SUCH = 66,     /* no such or ambiguous id */
    EXIT_NO_DAEMON = 69,   /* no osierd answers */
    EXIT_CANNOT_MAKE = 73, /* cannot create */
    EXIT_IO = 74,          /* input or output */
    EXIT_LATER = 75,       /* try later; the store is in use */
    EXIT_ANEW = 76,        /* osierd is to be started anew, and goes on from there */
    EXIT_NOT_ALLOWED = 77, /* not allowed */
    EXIT_SETTINGS = 78     /* configuration */
};

/* What is the same for every command. clinic is never NULL. */
typedef struct {
    const char *clinic;
    bool json;
} Cli;

typedef struct {
    const char *name;    /* "times" */
    const char *summary; /* one line for the list */
    const char *usage;   /* after "osier NAME " */
    const char *help;    /* a few lines with an example */
    int (*run)(const Cli *cli, int argc,
               char **argv); /* argv[0] is the command's name; exit code */
} Command;

/* First of all in a program: where standard input, output or error is closed, something that neither reads nor writes takes its
 * place, so that no file or socket that is opened later is mistaken for it. */
void cli_begin(void);

/* Last of all: code, or EXIT_IO after saying so where what was printed could not be written. */
int cli_end(int code);

/* Prints "osier: WHAT: VALUE: WHY" on standard error and returns code. */
int cli_fault(int code, const char *what, const char *value, const char *why, ...)
    G_GNUC_PRINTF(4, 5);

/* Reads the command's options with GOption; the rest of argv stays as positional arguments. Takes
 * --json and --clinic anywhere. False, after a message, where an option is wrong; then the command
 * returns EXIT_USE. --help is answered before the command runs. */
bool cli_options(const Command *command, const GOptionEntry *entries, int *argc, char ***argv);

/* The option with a value, and of which there can be one alone, that stands there twice; NULL where none does. Of two values one would
 * be left out in silence. */
#define CLI_TWICE "is given twice, and can be said once alone"
const GOptionEntry *cli_twice(const GOptionEntry *entries, int argc, char **argv);

/* Prints one JSON document on a line and frees it. */
void cli_json(json_t *document);

/* A path for a document: as it is, with U+FFFD for what is no UTF-8 (new reference). */
json_t *cli_path(const char *path);

/* EXIT_OK where there is something of that path to read, else EXIT_NO_SUCH after saying so (EX_NOINPUT of sysexits.h). */
int cli_input(const char *what, const char *path);

/* Writes a text to a new file for its owner alone; what names it in a complaint, such as "--out". EXIT_OK, or the code after saying
 * why not: then no part of it stays. */
int cli_make_file(const char *what, const char *path, const char *text);

/* The commands of each file. */
extern const Command COMMAND_PROGRAMME;
extern const Command COMMAND_LANGUAGE;
extern const Command COMMAND_TIMES;
extern const Command COMMAND_READ;
extern const Command COMMAND_SIZE;
extern const Command COMMAND_NUMBER;
extern const Command COMMAND_SETUP;
extern const Command COMMAND_INIT;
extern const Command COMMAND_CHECK_CONFIG;
extern const Command COMMAND_CHECK_PROGRAM;
extern const Command COMMAND_REHEARSE;
extern const Command COMMAND_CHECK;
extern const Command COMMAND_BACKUP;
extern const Command COMMAND_RESTORE;
extern const Command COMMAND_MOVE;
extern const Command COMMAND_CLIENT;
extern const Command COMMAND_SCREEN;
extern const Command COMMAND_PLAN;
extern const Command COMMAND_SESSIONS;
extern const Command COMMAND_REPORT;
extern const Command COMMAND_ADHERENCE;
extern const Command COMMAND_MEASURE;
extern const Command COMMAND_READY;
extern const Command COMMAND_ALERTS;
extern const Command COMMAND_ALERT;
extern const Command COMMAND_UNREAD;
extern const Command COMMAND_GLANCE;
extern const Command COMMAND_CALLS;
extern const Command COMMAND_WEEK;
extern const Command COMMAND_MESSAGES;
extern const Command COMMAND_REPLIES;
extern const Command COMMAND_WHY;
extern const Command COMMAND_STATUS;
extern const Command COMMAND_METRICS;
extern const Command COMMAND_SYNC;
extern const Command COMMAND_SENDER;
extern const Command COMMAND_CLOCK;
extern const Command COMMAND_ACCOUNT;
extern const Command COMMAND_RECORDS;
extern const Command COMMAND_HANDOUT;
extern const Command COMMAND_SUMMARY;

#endif
