/* SPDX-License-Identifier: Apache-2.0 */
/* Inside the sheet: how large each block of paper is, whoever then draws it. */
#ifndef OSIER_ADAPTERS_CHART_SHEET_FORM_H
#define OSIER_ADAPTERS_CHART_SHEET_FORM_H

#include "adapters/chart/ink.h"
#include "core/paper/sheet.h"

/* One walk over the blocks of a sheet, page after page; lengths in points. */
typedef struct {
    cairo_t *cr;
    const Paper *sheet;
    bool draws;
    double width; /* of the page */
    double height;
    /* 1: as airy as it is meant; less: what stands between blocks and lines is smaller */
    double close;
    double spare; /* left free at the foot of each page, so that the last one gets more */
    double y;
    double least; /* used of the emptiest page that was left for a new one, and may be saved */
    int page;
    int pages; /* known in the walk that draws */
} Walk;

/* How the text of a block is set. */
typedef struct {
    double size;
    bool bold;
    Ink ink;
    double left; /* from the margin */
    double width;
    double above;
    double below;
    const char *tag; /* of the PDF's structure */
} Form;

#define SHEET_MARGIN 44.0
#define SHEET_BOX_PAD 10.0
#define SHEET_CELL_GAP 8.0

/* Of what is printed on, between the margins. */
double sheet_column(const Walk *walk);

Form sheet_form(const Walk *walk, const Block *block);

/* The text broken into lines as the form has it (g_object_unref), and its height. */
PangoLayout *sheet_layout(const Walk *walk, const Form *form, const char *text);
double sheet_layout_height(PangoLayout *layout);

/* Where the text beside a mark begins. */
double sheet_hanging(const Walk *walk, const Block *block);

/* A picture of many figures is drawn as wide as on a screen, and made smaller as a whole. */
double sheet_picture_scale(const Block *block, double width);

/* Without what stands above and below. */
double sheet_block_height(const Walk *walk, const Block *block);

#endif
