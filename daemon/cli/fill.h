/* SPDX-License-Identifier: Apache-2.0 */
/* Text for a terminal of 80 columns. */
#ifndef OSIER_DAEMON_CLI_FILL_H
#define OSIER_DAEMON_CLI_FILL_H

/* Prints the words of a text in lines of at most 80 characters, a longer word alone in its line: the first line begins with
 * first, the others with rest. */
void fill_print(const char *text, const char *first, const char *rest);

/* Prints a help text: paragraphs are filled, lines that begin with a space are left as they are, but for those
 * that are wider: an example goes on behind a backslash, and what is said of it stands below. Ends with a line break. */
void fill_help(const char *help);

#endif
