/* SPDX-License-Identifier: Apache-2.0 */
/* A sentence while the grammar runs over it, for the chart's own two files. */
#ifndef OSIER_CORE_TALK_READING_CHART_H
#define OSIER_CORE_TALK_READING_CHART_H

#include "core/talk/reading_inside.h"

typedef struct {
    Work *work;
    const Rules *rules;
    int from, to;     /* tokens of the sentence */
    int number;       /* the first number that it may have */
    gsize set;        /* words of 32 bits that have one for each kind */
    guint32 *present; /* bit by kind: it occurs in the sentence */
    guint32 *marked;  /* bit by kind: so do the marks of its single words */
    guint32 *made;    /* bit by kind: it has a mark in the sentence */
    guint32 *is;      /* by token of the sentence, a bit by kind: what it is by itself */
    int *marks_of;    /* by kind, where made: its last mark in the sentence */
    guint64 *waiting; /* bit by row */
    guint64 *blocks;  /* bit by 64 rows: some of them wait */
    int *clause_next; /* by token: the next that begins a clause, itself counted */
    int *but_next;    /* by token: the next that begins a word which ends a gap */
    Symbol *fresh;    /* what the tokens of the sentence are, whose rows wait to be woken */
    int n_fresh;
    guint8 *edges; /* by token: bits of EdgeBit */
    bool edged;
} Chart;

typedef enum {
    CLAUSE_BEGINS = 1,
    TEXT_BEGINS = 2,
    CLAUSE_ENDS = 4, /* before the token */
    TEXT_ENDS = 8
} EdgeBit;

/* reading_edge.c. The clauses of a sentence as its punctuation has them; then, once the words that
 * lead in, tail off or turn are marked, the edges that patterns are held to. */
void chart_clauses(Chart *chart);
void chart_edges(Chart *chart);

/* Whether a run that begins at that token, or ends before it, keeps to an edge. */
static inline bool edge_begins(const Chart *chart, Edge edge, int start)
{
    guint8 bit = edge == EDGE_TEXT ? TEXT_BEGINS : CLAUSE_BEGINS;

    return edge == EDGE_NONE || (chart->edges[start] & bit) != 0;
}

static inline bool edge_ends(const Chart *chart, Edge edge, int end)
{
    guint8 bit = edge == EDGE_TEXT ? TEXT_ENDS : CLAUSE_ENDS;

    return edge == EDGE_NONE || (chart->edges[end] & bit) != 0;
}

#endif
