/* SPDX-License-Identifier: Apache-2.0 */
/* The log: one line for each thing that happened, as key=value, on standard error. A line carries ids of messages, alerts,
 * replies and sessions and never a name, an address or a word of a reply; only LOG_FULL says more. What osier did stands in
 * the ledger; the log is for whoever looks after the machine. */
#ifndef OSIER_DAEMON_LOG_LOG_H
#define OSIER_DAEMON_LOG_LOG_H

#include <stdio.h>

#include "daemon/clock/clock.h"

/* Of a line, and of a log: a log keeps the lines of its level and those before it. */
typedef enum { LOG_ERRORS, LOG_WARNINGS, LOG_PLAIN, LOG_FULL } LogLevel;

/* "errors", "warnings", "plain", "full". False for another word. */
bool log_level_parse(const char *word, LogLevel *level);
const char *log_level_name(LogLevel level);

typedef struct Log Log;

/* Writes to a stream and by a clock that stay the caller's. journal: each line begins with its priority as in
 * sd-daemon(3), and leaves the instant to the journal where the clock is the machine's own. */
Log *log_new(FILE *to, LogLevel level, Clock *clock, bool journal);
void log_free(Log *log);

/* Are personal data wanted? False for NULL. */
bool log_is_full(const Log *log);

/* One line: what happened ("gateway.sick"), then names and values in pairs, NULL-ended; a pair whose value is NULL is left
 * out. More than ten lines a minute about the same event are counted and not written. log may be NULL. For the loop. */
void log_line(Log *log, LogLevel level, const char *event, ...) G_GNUC_NULL_TERMINATED;

/* Lines that were made elsewhere (log_pair), each ended by a line feed; all of them are written. */
void log_lines(Log *log, LogLevel level, const GString *lines);

/* Appends " name=value", quoted where the value has other than letters, digits and a few marks, cut at 200 bytes. */
void log_pair(GString *line, const char *name, const char *value);

#endif
