/* SPDX-License-Identifier: Apache-2.0 */
/* PNG with a palette: a drawing of few colours in a third of the bytes. */
#ifndef OSIER_ADAPTERS_CHART_PALETTE_H
#define OSIER_ADAPTERS_CHART_PALETTE_H

#include <cairo.h>
#include <glib.h>

/* An image surface of CAIRO_FORMAT_RGB24 as PNG of at most 256 colours: its own where they are no more, else rounded to so
 * few that they are. NULL where there is no memory. */
GBytes *palette_png(cairo_surface_t *image);

#endif
