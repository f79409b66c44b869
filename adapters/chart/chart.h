/* SPDX-License-Identifier: Apache-2.0 */
/* Draws with cairo and pango: a picture or a sheet of paper comes in as values and goes out as bytes.
 * One routine draws each kind of picture, whatever it is drawn on. No I/O but fontconfig's own; may
 * be called from any thread, and takes milliseconds: never from the loop. */
#ifndef OSIER_ADAPTERS_CHART_CHART_H
#define OSIER_ADAPTERS_CHART_CHART_H

#include "core/paper/sheet.h"

/* CHART_MAIL: a PNG of fewer dots and with a palette, for a mail must stay small. */
typedef enum { CHART_SVG, CHART_PNG, CHART_MAIL, CHART_PDF } ChartFormat;

/* The picture, width wide in CSS pixels (PNG: two dots each, fewer where it is long) or points. An SVG carries title and alt
 * as <title> and <desc>. Never NULL. */
GBytes *chart_picture(const Picture *picture, ChartFormat format, double width);

/* The sheet as PDF pages, its text to be searched and read aloud. Never NULL. */
GBytes *chart_sheet(const Paper *sheet);

#endif
