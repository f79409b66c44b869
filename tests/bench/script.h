/* SPDX-License-Identifier: Apache-2.0 */
/* What a clinic would write for itself: a shell's loop that asks the sqlite3 command line who is due, sends each with curl, and
 * writes down that it went. One at a time, and durable as sqlite3 is by itself. */
#ifndef OSIER_TESTS_BENCH_SCRIPT_H
#define OSIER_TESTS_BENCH_SCRIPT_H

#include <stdbool.h>

/* Sends count messages to the URL; how long that took, without filling the table, or -1 where the command lines are not there or
 * not all went. */
double script_run_s(int count, const char *url);

#endif
