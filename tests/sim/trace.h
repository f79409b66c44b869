/* SPDX-License-Identifier: Apache-2.0 */
/* What happened last in a simulated clinic, and the first rule that was broken. */
#ifndef OSIER_TESTS_SIM_TRACE_H
#define OSIER_TESTS_SIM_TRACE_H

#include <glib.h>
#include <stdbool.h>
#include <stdint.h>

typedef struct Trace Trace;

Trace *trace_new(uint64_t seed);
void trace_free(Trace *trace);

/* The virtual instant that the next notes carry; counts a step. */
void trace_step(Trace *trace, int64_t now_ms);
int64_t trace_now(const Trace *trace);
int64_t trace_steps(const Trace *trace);

/* One thing that happened. Only the last twenty are kept; loud prints each as it comes. */
void trace_note(Trace *trace, const char *format, ...) G_GNUC_PRINTF(2, 3);
void trace_set_loud(Trace *trace, bool loud);

/* Not even a broken rule is printed. */
void trace_set_quiet(Trace *trace, bool quiet);

/* A rule was broken. The first is printed with seed, step, instant, rule and the last things that
 * happened; the run should then end. */
void trace_break(Trace *trace, const char *rule, const char *format, ...) G_GNUC_PRINTF(3, 4);
bool trace_broken(const Trace *trace);

/* The name of the rule that was broken first, or NULL. */
const char *trace_rule(const Trace *trace);

#endif
