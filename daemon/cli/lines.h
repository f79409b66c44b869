/* SPDX-License-Identifier: Apache-2.0 */
/* Texts from standard input, one a line, for commands that take --lines. */
#ifndef OSIER_DAEMON_CLI_LINES_H
#define OSIER_DAEMON_CLI_LINES_H

#include <glib.h>
#include <stdbool.h>

/* The next text into the buffer, which keeps its first 128 kB: "\n" in a line is a line break, "\\" a backslash. False at the
 * end of the input. */
bool line_next(GString *line);

/* After the last: EXIT_OK, or the code after saying that the input could not be read. */
int lines_end(const char *command);

#endif
