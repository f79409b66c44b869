/* SPDX-License-Identifier: Apache-2.0 */
/* A program of the clinic's, spoken with in lines on its standard input and output. It runs without a shell, in a folder
 * of the caller's choice. */
#ifndef OSIER_ADAPTERS_PROGRAM_PROGRAM_H
#define OSIER_ADAPTERS_PROGRAM_PROGRAM_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <uv.h>

enum {
    PROGRAM_LINE_MAX = 64 * 1024,    /* bytes of one line from it; a longer one ends it */
    PROGRAM_QUEUE_MAX = 1024 * 1024, /* bytes to it that it has not read; more ends it */
    PROGRAM_MURMUR_MAX =
        1000, /* bytes of one line of its standard error; the rest of a longer one is not given */
    PROGRAM_MURMURS_MAX = 16 * 1024 * 1024 /* bytes of them in a minute; more ends it */
};

typedef struct Program Program;

/* All are called on the loop. */
typedef struct {
    void (*line)(const char *line, size_t length,
                 void *context); /* without its end; not always UTF-8 */
    void (*murmur)(const char *line, size_t length,
                   void *context); /* of its standard error; NULL: that goes where ours goes */
    void (*late)(void *context);   /* the time set with program_wait has passed */
    void (*ended)(const char *why,
                  void *context); /* the last call: it is gone, and the Program freed */
    void *context;
} ProgramEars;

/* Starts it: command is NULL-ended, its first word a path. NULL and *why (g_free) where it cannot be started. */
Program *program_start(uv_loop_t *loop, const char *const *command, const char *folder,
                       const ProgramEars *ears, char **why);

/* Writes a line (copied; its end is added). False where it does not read: then it is being ended. */
bool program_say(Program *program, const char *line);

/* Reads on, or holds back what it writes. */
void program_listen(Program *program, bool listens);

/* Calls late after so many real milliseconds, in place of the time set before; negative: never. */
void program_wait(Program *program, int64_t ms);

/* Closes its input, which asks it to end; kills it after two seconds. ended follows. */
void program_stop(Program *program);

/* Kills it, and nobody is told anything any more. */
void program_abandon(Program *program);

/* Kills it, for a reason that ended tells. */
void program_kill(Program *program, const char *why);

#endif
