/* SPDX-License-Identifier: Apache-2.0 */
/* Draws off the loop, on two of libuv's workers at most: what is to be drawn is values that the painter
 * takes over, what comes back is bytes. */
#ifndef OSIER_DAEMON_PAINT_PAINTER_H
#define OSIER_DAEMON_PAINT_PAINTER_H

#include <uv.h>

#include "daemon/paint/drawing.h"

typedef struct Painter Painter;

/* Called on the loop, once. bytes (g_bytes_unref) are NULL where the painter was closed before: whoever
 * asked is gone then, and nothing may be answered. */
typedef void PainterDone(GBytes *bytes, void *context);

/* loop NULL: draws on the spot, for a daemon without one. */
Painter *painter_new(uv_loop_t *loop);

/* What is in hand ends with NULL; frees itself once the last has ended. */
void painter_close(Painter *painter);

/* Draws, and frees the drawing. False, with the drawing freed and done not called, where too many
 * wait. */
bool painter_draw(Painter *painter, Drawing *drawing, PainterDone *done, void *context);

/* How many drawings are in hand or wait. */
int painter_busy(const Painter *painter);

#endif
