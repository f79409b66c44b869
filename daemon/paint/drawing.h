/* SPDX-License-Identifier: Apache-2.0 */
/* Something to be drawn, as values of its own: it can go to another thread. */
#ifndef OSIER_DAEMON_PAINT_DRAWING_H
#define OSIER_DAEMON_PAINT_DRAWING_H

#include "adapters/chart/chart.h"

typedef struct {
    Picture *picture; /* owned */
    ChartFormat format;
    double width;
    char *file; /* the name it is saved under, or NULL: shown where it is */
} Drawing;

/* Takes the picture over. */
Drawing *drawing_of_picture(Picture *picture, ChartFormat format, double width);
void drawing_free(Drawing *drawing);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(Drawing, drawing_free)

/* The bytes; takes milliseconds. Never NULL. */
GBytes *drawing_draw(const Drawing *drawing);

/* "image/svg+xml", "image/png", "application/pdf". */
const char *drawing_type(const Drawing *drawing);

#endif
