/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/chart/chart.h"

#include <cairo-pdf.h>
#include <cairo-svg.h>
#include <math.h>
#include <string.h>

#include "adapters/chart/ink.h"
#include "adapters/chart/palette.h"

/* Two dots for each pixel of a sharp screen; fewer in a mail, and where the picture is long. */
#define DOTS_A_PIXEL 2.0
#define DOTS_IN_MAIL 1.5
#define DOTS_MOST 900000.0
#define SIDE_LONGEST 8000

double picture_height(const Picture *picture, double width)
{
    if (picture->setup != NULL) return setup_height(picture->setup, width);
    if (picture->course != NULL) return course_height(picture->course, width);
    return adherence_height(picture->adherence, width);
}

void picture_draw(cairo_t *cr, const Picture *picture, double width)
{
    cairo_save(cr);
    if (picture->setup != NULL)
        setup_draw(cr, picture->setup, width);
    else if (picture->course != NULL)
        course_draw(cr, picture->course, width);
    else
        adherence_draw(cr, picture->adherence, width);
    cairo_restore(cr);
}

static cairo_status_t keep(void *context, const unsigned char *bytes, unsigned int length)
{
    g_byte_array_append(context, bytes, length);
    return CAIRO_STATUS_SUCCESS;
}

static double dots_of(ChartFormat format, double width, double height)
{
    if (format != CHART_PNG && format != CHART_MAIL) return 1;
    return MIN(format == CHART_MAIL ? DOTS_IN_MAIL : DOTS_A_PIXEL,
               MAX(0.5, sqrt(DOTS_MOST / (width * height))));
}

static cairo_surface_t *surface_new(ChartFormat format, GByteArray *bytes, double width,
                                    double height)
{
    if (format == CHART_SVG) {
        cairo_surface_t *surface = cairo_svg_surface_create_for_stream(keep, bytes, width, height);
        cairo_svg_surface_set_document_unit(surface, CAIRO_SVG_UNIT_PX);
        return surface;
    }
    if (format == CHART_PDF) return cairo_pdf_surface_create_for_stream(keep, bytes, width, height);
    double dots = dots_of(format, width, height);
    return cairo_image_surface_create(CAIRO_FORMAT_RGB24, (int)(width * dots),
                                      (int)(height * dots));
}

/* Puts title and description behind the opening tag. */
static GByteArray *described(GByteArray *svg, const Picture *picture)
{
    const char *text = (const char *)svg->data;
    const char *open = g_strstr_len(text, svg->len, "<svg");
    const char *end = open != NULL ? memchr(open, '>', (size_t)(text + svg->len - open)) : NULL;
    g_autofree char *alt = g_utf8_make_valid(picture->alt, -1);
    g_autofree char *words =
        g_markup_printf_escaped("\n<title>%s</title>\n<desc>%s</desc>", picture->title, alt);

    if (end == NULL) return svg;
    GByteArray *whole = g_byte_array_new();
    size_t head = (size_t)(end + 1 - text);
    g_byte_array_append(whole, svg->data, head);
    g_byte_array_append(whole, (const guint8 *)words, strlen(words));
    g_byte_array_append(whole, svg->data + head, svg->len - head);
    g_byte_array_unref(svg);
    return whole;
}

GBytes *chart_picture(const Picture *picture, ChartFormat format, double width)
{
    double height = MIN(picture_height(picture, width), SIDE_LONGEST);
    GByteArray *bytes = g_byte_array_new();
    cairo_surface_t *surface = surface_new(format, bytes, width, height);
    cairo_t *cr = cairo_create(surface);

    double dots = dots_of(format, width, height);

    cairo_scale(cr, dots, dots);
    if (format == CHART_PDF)
        cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_TITLE, picture->title);
    ink_set(cr, INK_WHITE);
    cairo_paint(cr);
    picture_draw(cr, picture, width);
    cairo_destroy(cr);
    GBytes *mail = format == CHART_MAIL ? palette_png(surface) : NULL;
    if (format == CHART_PNG || (format == CHART_MAIL && mail == NULL))
        cairo_surface_write_to_png_stream(surface, keep, bytes);
    else
        cairo_surface_finish(surface);
    cairo_surface_destroy(surface);
    if (mail != NULL) {
        g_byte_array_unref(bytes);
        return mail;
    }
    if (format == CHART_SVG) bytes = described(bytes, picture);
    return g_byte_array_free_to_bytes(bytes);
}
