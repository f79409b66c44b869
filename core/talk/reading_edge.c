/* SPDX-License-Identifier: Apache-2.0 */
/* Where clauses begin and end, words that may stand before and behind them aside. */
#include "core/talk/reading_chart.h"

static void make_begins(Chart *chart)
{
    const Work *work = chart->work;

    for (int i = chart->from; i < chart->to; i++) {
        int lead = i > 0 ? role_ends(work, ROLE_LEAD, i) : 0;
        guint8 before = lead > 0 ? chart->edges[i - lead] : 0;
        bool clause = i == 0 || token_at(work, i)->level >= LEVEL_CLAUSE;
        chart->edges[i] |= (guint8)((clause || (before & CLAUSE_BEGINS) ? CLAUSE_BEGINS : 0) |
                                    (i == 0 || (before & TEXT_BEGINS) ? TEXT_BEGINS : 0));
    }
}

static void make_ends(Chart *chart)
{
    const Work *work = chart->work;
    int count = token_count(work);

    chart->edges[chart->to] |= CLAUSE_ENDS | (chart->to == count ? TEXT_ENDS : 0);
    for (int i = chart->to - 1; i > chart->from; i--) {
        int tail = role_starts(work, ROLE_TAIL, i);
        guint8 behind = tail > 0 ? chart->edges[MIN(i + tail, chart->to)] : 0;
        bool clause = token_at(work, i)->level >= LEVEL_CLAUSE;
        chart->edges[i] |=
            (guint8)((clause || (behind & CLAUSE_ENDS) ? CLAUSE_ENDS : 0) | (behind & TEXT_ENDS));
    }
}

void chart_edges(Chart *chart)
{
    int but = chart->to;

    make_begins(chart);
    make_ends(chart);
    for (int i = chart->to - 1; i >= chart->from; i--) {
        if (role_starts(chart->work, ROLE_BUT, i) > 0) but = i;
        chart->but_next[i] = but;
    }
    chart->edged = true;
}

void chart_clauses(Chart *chart)
{
    int next = chart->to;

    for (int i = chart->to - 1; i >= chart->from; i--) {
        if (token_at(chart->work, i)->level >= LEVEL_CLAUSE) next = i;
        chart->clause_next[i] = next;
        chart->but_next[i] = chart->to;
    }
}
