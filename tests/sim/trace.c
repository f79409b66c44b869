/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/sim/trace.h"

#include <stdio.h>

#include "core/calendar/date.h"

#define KEPT 20

struct Trace {
    uint64_t seed;
    int64_t now_ms;
    int64_t steps;
    char *line[KEPT];
    int next;
    bool loud;
    bool quiet;
    char *rule;
};

Trace *trace_new(uint64_t seed)
{
    Trace *trace = g_new0(Trace, 1);

    trace->seed = seed;
    return trace;
}

void trace_free(Trace *trace)
{
    if (trace == NULL) return;
    for (int i = 0; i < KEPT; i++)
        g_free(trace->line[i]);
    g_free(trace->rule);
    g_free(trace);
}

void trace_step(Trace *trace, int64_t now_ms)
{
    trace->now_ms = now_ms;
    trace->steps++;
}

int64_t trace_now(const Trace *trace)
{
    return trace->now_ms;
}

int64_t trace_steps(const Trace *trace)
{
    return trace->steps;
}

void trace_set_loud(Trace *trace, bool loud)
{
    trace->loud = loud;
}

void trace_set_quiet(Trace *trace, bool quiet)
{
    trace->quiet = quiet;
}

void trace_note(Trace *trace, const char *format, ...)
{
    va_list list;

    va_start(list, format);
    g_autofree char *words = g_strdup_vprintf(format, list);
    va_end(list);
    g_autofree char *at = instant_format_exact(trace->now_ms);
    g_free(trace->line[trace->next]);
    trace->line[trace->next] = g_strdup_printf("%s  %s", at, words);
    if (trace->loud) fprintf(stderr, "%s\n", trace->line[trace->next]);
    trace->next = (trace->next + 1) % KEPT;
}

void trace_break(Trace *trace, const char *rule, const char *format, ...)
{
    va_list list;

    if (trace->rule != NULL) return;
    va_start(list, format);
    g_autofree char *words = g_strdup_vprintf(format, list);
    va_end(list);
    g_autofree char *at = instant_format_exact(trace->now_ms);
    trace->rule = g_strdup(rule);
    if (trace->quiet) return;
    fprintf(stderr,
            "BROKEN seed %" G_GUINT64_FORMAT ", step %" G_GINT64_FORMAT ", %s\n  %s\n  %s\n"
            "the last things that happened:\n",
            trace->seed, trace->steps, at, rule, words);
    for (int i = 0; i < KEPT; i++) {
        const char *line = trace->line[(trace->next + i) % KEPT];
        if (line != NULL) fprintf(stderr, "  %s\n", line);
    }
}

bool trace_broken(const Trace *trace)
{
    return trace->rule != NULL;
}

const char *trace_rule(const Trace *trace)
{
    return trace->rule;
}
