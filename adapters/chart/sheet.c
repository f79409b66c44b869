/* SPDX-License-Identifier: Apache-2.0 */
/* Lays a sheet out on pages. The same walk is made twice: once to count the pages, once to draw them. */
#include <cairo-pdf.h>
#include <math.h>
#include <string.h>

#include "adapters/chart/chart.h"
#include "adapters/chart/ink.h"

#define MARGIN 44.0
#define FOOTER 34.0
#define PAGES_MAX 500
#define BOX_PAD 10.0
#define FIGURES_WIDTH 720.0
#define PAGE_USED 0.3 /* a page that holds less is not left for a new one */

typedef struct {
    cairo_t *cr;
    const Paper *sheet;
    bool draws;
    double width; /* of the page */
    double height;
    double y;
    int page;
    int pages; /* known in the second walk */
} Walk;

static double column(const Walk *walk)
{
    return walk->width - 2 * MARGIN;
}

static double bottom(const Walk *walk)
{
    return walk->height - MARGIN - FOOTER;
}

static double gap(const Walk *walk)
{
    return walk->sheet->size_pt * 0.38;
}

/* --- pages --------------------------------------------------------------------------------------- */

/* The pack's "Page {value} of {total}" with its numbers. */
static char *page_words(const Walk *walk)
{
    g_autofree char *value = g_strdup_printf("%d", walk->page);
    g_autofree char *total = g_strdup_printf("%d", walk->pages);
    GString *out = g_string_new(walk->sheet->page_words);

    g_string_replace(out, "{value}", value, 1);
    g_string_replace(out, "{total}", total, 1);
    return g_string_free(out, FALSE);
}

static void draw_footer(const Walk *walk)
{
    double y = walk->height - MARGIN;
    double size = MAX(9, walk->sheet->size_pt * 0.72);
    g_autofree char *page = page_words(walk);

    ink_set(walk->cr, INK_PALE);
    cairo_set_line_width(walk->cr, 1);
    cairo_move_to(walk->cr, MARGIN, y - size * 1.4);
    cairo_line_to(walk->cr, walk->width - MARGIN, y - size * 1.4);
    cairo_stroke(walk->cr);
    ink_set(walk->cr, INK_BLACK);
    double taken = ink_text(walk->cr, walk->width - MARGIN, y, page,
                            (TextStyle){.size = size, .align = ALIGN_RIGHT});
    ink_text(walk->cr, MARGIN, y, walk->sheet->footer,
             (TextStyle){.size = size, .bold = true, .width = column(walk) - taken - 14});
}

static void end_page(Walk *walk)
{
    if (walk->draws) {
        draw_footer(walk);
        cairo_show_page(walk->cr);
    }
}

static void next_page(Walk *walk)
{
    end_page(walk);
    walk->page++;
    walk->y = MARGIN;
}

/* --- texts --------------------------------------------------------------------------------------- */

typedef struct {
    double size;
    bool bold;
    Ink ink;
    double left; /* from the margin */
    double width;
    double above;
    double below;
    const char *tag;
} Form;

static Form form_of(const Walk *walk, const Block *block)
{
    double size = walk->sheet->size_pt;
    Form form = {
        .size = size, .ink = INK_BLACK, .width = column(walk), .below = gap(walk), .tag = "P"};

    if (block->kind == BLOCK_TITLE) {
        form.size = size * 1.7;
        form.bold = true;
        form.tag = "H1";
    } else if (block->kind == BLOCK_HEADING) {
        form.size = size * 1.3;
        form.bold = true;
        form.above = size * 0.8;
        form.ink = INK_BLUE;
        form.tag = "H2";
    } else if (block->kind == BLOCK_LABEL) {
        form.bold = true;
        form.above = size * 0.35;
        form.below = size * 0.1;
        form.tag = "H3";
    } else if (block->kind == BLOCK_SMALL) {
        form.size = MAX(9, size * 0.85);
        form.ink = INK_GREY;
    } else if (block->kind == BLOCK_BOX) {
        form.bold = true;
        form.left = BOX_PAD;
        form.width -= 2 * BOX_PAD;
        form.above = BOX_PAD + size * 0.3;
        form.below = BOX_PAD + size * 0.5;
    }
    return form;
}

static PangoLayout *layout_of(const Walk *walk, const Form *form, const char *text)
{
    PangoLayout *layout = ink_layout(walk->cr, form->size, form->bold, text);

    pango_layout_set_width(layout, (int)(form->width * PANGO_SCALE));
    pango_layout_set_wrap(layout, PANGO_WRAP_WORD_CHAR);
    pango_layout_set_line_spacing(layout, 1.12F);
    return layout;
}

static double height_of(PangoLayout *layout)
{
    PangoRectangle box;

    pango_layout_get_extents(layout, NULL, &box);
    return (double)box.height / PANGO_SCALE;
}

/* Draws a layout line by line, over as many pages as it takes. */
static void flow(Walk *walk, PangoLayout *layout, const Form *form)
{
    PangoLayoutIter *iter = pango_layout_get_iter(layout);
    double top = walk->y;
    double begun = 0;

    do {
        PangoRectangle line;
        pango_layout_iter_get_line_extents(iter, NULL, &line);
        double line_top = (double)line.y / PANGO_SCALE;
        double line_height = (double)line.height / PANGO_SCALE;
        if (top + line_top - begun + line_height > bottom(walk) && line_top > begun) {
            next_page(walk);
            top = walk->y;
            begun = line_top;
        }
        if (walk->draws) {
            ink_set(walk->cr, form->ink);
            cairo_move_to(walk->cr, MARGIN + form->left + (double)line.x / PANGO_SCALE,
                          top - begun + (double)pango_layout_iter_get_baseline(iter) / PANGO_SCALE);
            pango_cairo_show_layout_line(walk->cr, pango_layout_iter_get_line_readonly(iter));
        }
        walk->y = top - begun + line_top + line_height;
    } while (pango_layout_iter_next_line(iter));
    pango_layout_iter_free(iter);
}

static void tag(const Walk *walk, const char *name, bool begin)
{
    if (!walk->draws) return;
    if (begin)
        cairo_tag_begin(walk->cr, name, NULL);
    else
        cairo_tag_end(walk->cr, name);
}

/* --- blocks -------------------------------------------------------------------------------------- */

/* Where the text beside a mark begins. */
static double hanging(const Walk *walk, const Block *block)
{
    return block->kind == BLOCK_PAIR ? column(walk) * 0.3 : walk->sheet->size_pt * 1.7;
}

static double row_height(const Walk *walk, const Block *block)
{
    Form form = form_of(walk, block);
    double most = 0;

    form.bold = block->head;
    for (guint i = 0; i < block->cells->len; i++) {
        form.width = block->share[i] * column(walk) - 8;
        PangoLayout *layout = layout_of(walk, &form, block->cells->pdata[i]);
        most = MAX(most, height_of(layout));
        g_object_unref(layout);
    }
    return most + 5;
}

/* A picture of many figures is drawn as wide as on a screen, and made smaller as a whole. */
static double picture_scale(const Block *block, double width)
{
    return block->picture->setup != NULL ? 1 : MIN(1, width / FIGURES_WIDTH);
}

static double picture_room(const Block *block, double width)
{
    double scale = picture_scale(block, width);

    return picture_height(block->picture, width / scale) * scale;
}

/* Without what stands above and below. */
static double block_height(const Walk *walk, const Block *block)
{
    Form form = form_of(walk, block);

    if (block->kind == BLOCK_PAGE) return 0;
    if (block->kind == BLOCK_SPACE) return walk->sheet->size_pt;
    if (block->kind == BLOCK_ROW) return row_height(walk, block);
    if (block->kind == BLOCK_PICTURE) return picture_room(block, block->part * column(walk));
    if (block->kind == BLOCK_ITEM || block->kind == BLOCK_PAIR) form.width -= hanging(walk, block);
    PangoLayout *layout = layout_of(walk, &form, block->text);
    double height = height_of(layout);
    g_object_unref(layout);
    return height;
}

static void draw_row(Walk *walk, const Block *block)
{
    Form form = form_of(walk, block);
    double height = row_height(walk, block);
    double left = 0;

    form.bold = block->head;
    for (guint i = 0; i < block->cells->len; i++) {
        form.width = block->share[i] * column(walk) - 8;
        PangoLayout *layout = layout_of(walk, &form, block->cells->pdata[i]);
        if (walk->draws) {
            ink_set(walk->cr, INK_BLACK);
            cairo_move_to(walk->cr, MARGIN + left, walk->y);
            pango_cairo_show_layout(walk->cr, layout);
        }
        g_object_unref(layout);
        left += block->share[i] * column(walk);
    }
    walk->y += height;
    if (!walk->draws) return;
    ink_set(walk->cr, block->head ? INK_GREY : INK_LINE);
    cairo_set_line_width(walk->cr, 0.8);
    cairo_move_to(walk->cr, MARGIN, walk->y - 2);
    cairo_line_to(walk->cr, walk->width - MARGIN, walk->y - 2);
    cairo_stroke(walk->cr);
}

static void draw_picture_block(Walk *walk, const Block *block)
{
    double width = block->part * column(walk);
    double scale = picture_scale(block, width);

    if (walk->draws) {
        cairo_save(walk->cr);
        cairo_translate(walk->cr, MARGIN + (column(walk) - width) / 2, walk->y);
        cairo_scale(walk->cr, scale, scale);
        picture_draw(walk->cr, block->picture, width / scale);
        cairo_restore(walk->cr);
    }
    walk->y += picture_room(block, width);
}

static void draw_frame(const Walk *walk, double height)
{
    cairo_rectangle(walk->cr, MARGIN, walk->y - BOX_PAD, column(walk), height + 2 * BOX_PAD);
    ink_set(walk->cr, INK_BLACK);
    cairo_set_line_width(walk->cr, 2.5);
    cairo_stroke(walk->cr);
}

static void draw_text_block(Walk *walk, const Block *block)
{
    Form form = form_of(walk, block);

    if (block->kind == BLOCK_BOX && walk->draws) draw_frame(walk, block_height(walk, block));
    if (block->kind == BLOCK_ITEM || block->kind == BLOCK_PAIR) {
        double left = hanging(walk, block);
        if (walk->draws) {
            Form mark = {.size = form.size, .bold = true, .width = left - 4};
            PangoLayout *layout = layout_of(walk, &mark, block->mark);
            ink_set(walk->cr, INK_BLACK);
            cairo_move_to(walk->cr, MARGIN, walk->y);
            pango_cairo_show_layout(walk->cr, layout);
            g_object_unref(layout);
        }
        form.left += left;
        form.width -= left;
    }
    PangoLayout *layout = layout_of(walk, &form, block->text);
    flow(walk, layout, &form);
    g_object_unref(layout);
}

static bool stays_with_next(const Block *block)
{
    return block->kind == BLOCK_HEADING || block->kind == BLOCK_LABEL ||
           block->kind == BLOCK_TITLE || (block->kind == BLOCK_ROW && block->head);
}

/* How much room a block wants on the page where it begins: its own, and that of what it stays with. A
 * block longer than half a page is content with a few lines. */
static double wanted(const Walk *walk, guint at)
{
    double sum = 0;

    for (; at < walk->sheet->blocks->len; at++) {
        const Block *block = walk->sheet->blocks->pdata[at];
        Form form = form_of(walk, block);
        double height = block_height(walk, block);
        bool breaks = block->kind != BLOCK_PICTURE && block->kind != BLOCK_BOX &&
                      block->kind != BLOCK_ROW && height > walk->height / 2;
        sum += form.above + (breaks ? walk->sheet->size_pt * 4 : height);
        if (!stays_with_next(block)) break;
        sum += form.below;
    }
    return MIN(sum, bottom(walk) - MARGIN);
}

static void draw_block(Walk *walk, guint at)
{
    const Block *block = walk->sheet->blocks->pdata[at];
    Form form = form_of(walk, block);

    if (block->kind == BLOCK_PAGE) {
        if (walk->y > walk->height * PAGE_USED) next_page(walk);
        return;
    }
    if (walk->y > MARGIN && walk->y + wanted(walk, at) > bottom(walk)) next_page(walk);
    if (block->kind == BLOCK_SPACE) {
        walk->y += walk->sheet->size_pt;
        return;
    }
    if (walk->y > MARGIN || block->kind == BLOCK_BOX) walk->y += form.above;
    tag(walk, form.tag, true);
    if (block->kind == BLOCK_ROW)
        draw_row(walk, block);
    else if (block->kind == BLOCK_PICTURE)
        draw_picture_block(walk, block);
    else
        draw_text_block(walk, block);
    tag(walk, form.tag, false);
    walk->y += block->kind == BLOCK_ROW ? 0 : form.below;
}

/* Gives the number of pages. */
static int walk_all(Walk walk)
{
    for (guint i = 0; i < walk.sheet->blocks->len && walk.page < PAGES_MAX; i++)
        draw_block(&walk, i);
    end_page(&walk);
    return walk.page;
}

static cairo_status_t keep(void *context, const unsigned char *bytes, unsigned int length)
{
    g_byte_array_append(context, bytes, length);
    return CAIRO_STATUS_SUCCESS;
}

GBytes *chart_sheet(const Paper *sheet)
{
    /* ISO 216 A4 and ANSI/ASME Y14.1 letter, in points. */
    double width = sheet->letter ? 612 : 595.28;
    double height = sheet->letter ? 792 : 841.89;
    GByteArray *bytes = g_byte_array_new();
    cairo_surface_t *surface = cairo_pdf_surface_create_for_stream(keep, bytes, width, height);
    cairo_t *cr = cairo_create(surface);
    Walk walk = {
        .cr = cr, .sheet = sheet, .width = width, .height = height, .y = MARGIN, .page = 1};

    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_TITLE, sheet->title);
    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_CREATOR, "osier");
    if (sheet->made != NULL)
        cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_CREATE_DATE, sheet->made);
    walk.pages = walk_all(walk);
    walk.draws = true;
    walk_all(walk);
    cairo_destroy(cr);
    cairo_surface_finish(surface);
    cairo_surface_destroy(surface);
    return g_byte_array_free_to_bytes(bytes);
}
