/* SPDX-License-Identifier: Apache-2.0 */
/* What the drawings share: colours, fills, texts. Only the chart room uses it. */
#ifndef OSIER_ADAPTERS_CHART_INK_H
#define OSIER_ADAPTERS_CHART_INK_H

#include <cairo.h>
#include <pango/pangocairo.h>

#include "core/paper/picture.h"

/* Wong B, Nat Methods 2011;8:441 gives the palette; each colour stands beside a shape or a hatching
 * of its own, so that nothing hangs on colour alone. */
typedef enum {
    INK_BLACK,
    INK_BLUE,
    INK_ORANGE,
    INK_RED,
    INK_GREY,
    INK_PALE,
    INK_LINE,
    INK_WHITE
} Ink;

void ink_set(cairo_t *cr, Ink ink);

typedef enum { ALIGN_LEFT, ALIGN_CENTRE, ALIGN_RIGHT } Align;

typedef struct {
    double size;
    bool bold;
    Align align;
    double width; /* 0: as wide as the text is; else one line, cut with an ellipsis */
    bool halo;    /* on white */
} TextStyle;

/* One line of text, its left, middle or right at x and its middle at y. Any text: invalid bytes and
 * control characters become marks. Its width. */
double ink_text(cairo_t *cr, double x, double y, const char *text, TextStyle style);

/* The fill of a session's outcome, 0 done to 5 excused, in the rectangle. */
void ink_state(cairo_t *cr, int state, double x, double y, double width, double height);

/* The six with their names, as many in a row as fit. Gives the height it took. */
double ink_states_key(cairo_t *cr, char *const states[6], double x, double y, double width,
                      double size);
double ink_states_key_height(char *const states[6], double width, double size);

/* A layout of that size, of DejaVu Sans or what the machine has (g_object_unref). */
PangoLayout *ink_layout(cairo_t *cr, double size, bool bold, const char *text);

/* The drawings: how high each is at that width, and the drawing from 0, 0 on. */
double setup_height(const SetupDrawing *setup, double width);
void setup_draw(cairo_t *cr, const SetupDrawing *setup, double width);
double course_height(const CourseDrawing *course, double width);
void course_draw(cairo_t *cr, const CourseDrawing *course, double width);
double adherence_height(const AdherenceDrawing *adherence, double width);
void adherence_draw(cairo_t *cr, const AdherenceDrawing *adherence, double width);

/* Whichever of the three the picture is. */
double picture_height(const Picture *picture, double width);
void picture_draw(cairo_t *cr, const Picture *picture, double width);

#endif
