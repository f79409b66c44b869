/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/paint/drawing.h"

Drawing *drawing_of_picture(Picture *picture, ChartFormat format, double width)
{
    Drawing *drawing = g_new0(Drawing, 1);

    *drawing = (Drawing){.picture = picture, .format = format, .width = width};
    return drawing;
}

void drawing_free(Drawing *drawing)
{
    if (drawing == NULL) return;
    picture_free(drawing->picture);
    g_free(drawing->file);
    g_free(drawing);
}

GBytes *drawing_draw(const Drawing *drawing)
{
    return chart_picture(drawing->picture, drawing->format, drawing->width);
}

const char *drawing_type(const Drawing *drawing)
{
    static const char *const TYPES[] = {
        [CHART_SVG] = "image/svg+xml", [CHART_PNG] = "image/png", [CHART_PDF] = "application/pdf"};

    return TYPES[drawing->format];
}
