/* SPDX-License-Identifier: Apache-2.0 */
/* The clinic's clients side by side: a bar each, as long as the sessions of the busiest. */
#include "adapters/chart/ink.h"

#define SIZE 13.0
#define ROW 22.0
#define PAD 10.0

double adherence_height(const AdherenceDrawing *adherence, double width)
{
    return 3 * PAD + ink_states_key_height(adherence->states, width - 2 * PAD, SIZE) +
           adherence->rows->len * ROW;
}

static int prescribed(SessionCounts counts)
{
    return adherence_of(counts).prescribed;
}

static void draw_bar(cairo_t *cr, SessionCounts counts, double x, double y, double unit)
{
    const int parts[6] = {counts.done,   counts.partly,  counts.not,
                          counts.silent, counts.unasked, counts.excused};

    for (int i = 0; i < 6; i++) {
        ink_state(cr, i, x, y, parts[i] * unit, ROW - 7);
        x += parts[i] * unit;
    }
}

void adherence_draw(cairo_t *cr, const AdherenceDrawing *adherence, double width)
{
    double name = width * 0.32;
    double figure = width * 0.16;
    double bar = width - name - figure - 2 * PAD;
    double y = PAD;
    int most = 1;

    y += ink_states_key(cr, adherence->states, PAD, y, width - 2 * PAD, SIZE) + PAD;
    for (guint i = 0; i < adherence->rows->len; i++)
        most = MAX(most, prescribed(((AdherenceRow *)adherence->rows->pdata[i])->counts));
    for (guint i = 0; i < adherence->rows->len; i++, y += ROW) {
        const AdherenceRow *row = adherence->rows->pdata[i];
        ink_set(cr, INK_BLACK);
        ink_text(cr, PAD, y + ROW / 2, row->name, (TextStyle){.size = SIZE, .width = name - PAD});
        ink_text(cr, width - PAD, y + ROW / 2, row->figure,
                 (TextStyle){.size = SIZE, .align = ALIGN_RIGHT});
        draw_bar(cr, row->counts, PAD + name, y + 3.5, bar / most);
    }
}
