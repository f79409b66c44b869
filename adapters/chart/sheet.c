/* SPDX-License-Identifier: Apache-2.0 */
/* Lays a sheet out on pages. The same walk is made more than once: to count the pages, to find a way without a page for a line or
 * two at the end, and to draw them. */
#include <cairo-pdf.h>
#include <math.h>
#include <string.h>

#include "adapters/chart/chart.h"
#include "adapters/chart/sheet_form.h"

#define FOOTER 34.0
#define PAGES_MAX 500
#define PAGE_USED 0.3   /* a page that holds less is not left for a new one */
#define PAGE_THIN 0.22  /* a last page that holds less looks forgotten */
#define PAGE_SHORT 0.35 /* one that holds less is saved where setting closer does it */
#define CLOSEST 0.49
#define SPARE_MOST 0.3

static double bottom(const Walk *walk)
{
    return walk->height - SHEET_MARGIN - FOOTER - walk->spare;
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
    double y = walk->height - SHEET_MARGIN;
    double size = MAX(9, walk->sheet->size_pt * 0.72);
    g_autofree char *page = page_words(walk);

    ink_set(walk->cr, INK_PALE);
    cairo_set_line_width(walk->cr, 1);
    cairo_move_to(walk->cr, SHEET_MARGIN, y - size * 1.4);
    cairo_line_to(walk->cr, walk->width - SHEET_MARGIN, y - size * 1.4);
    cairo_stroke(walk->cr);
    ink_set(walk->cr, INK_BLACK);
    double taken = ink_text(walk->cr, walk->width - SHEET_MARGIN, y, page,
                            (TextStyle){.size = size, .align = ALIGN_RIGHT});
    ink_text(walk->cr, SHEET_MARGIN, y, walk->sheet->footer,
             (TextStyle){.size = size, .bold = true, .width = sheet_column(walk) - taken - 14});
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
    walk->y = SHEET_MARGIN;
}

/* --- texts --------------------------------------------------------------------------------------- */

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
            cairo_move_to(walk->cr, SHEET_MARGIN + form->left + (double)line.x / PANGO_SCALE,
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

static void draw_row(Walk *walk, const Block *block)
{
    Form form = sheet_form(walk, block);
    double height = sheet_block_height(walk, block);
    double left = 0;

    form.bold = block->head;
    for (guint i = 0; i < block->cells->len; i++) {
        form.width = block->share[i] * sheet_column(walk) - SHEET_CELL_GAP;
        PangoLayout *layout = sheet_layout(walk, &form, block->cells->pdata[i]);
        if (walk->draws) {
            ink_set(walk->cr, INK_BLACK);
            cairo_move_to(walk->cr, SHEET_MARGIN + left, walk->y);
            pango_cairo_show_layout(walk->cr, layout);
        }
        g_object_unref(layout);
        left += block->share[i] * sheet_column(walk);
    }
    walk->y += height;
    if (!walk->draws) return;
    ink_set(walk->cr, block->head ? INK_GREY : INK_LINE);
    cairo_set_line_width(walk->cr, 0.8);
    cairo_move_to(walk->cr, SHEET_MARGIN, walk->y - 2);
    cairo_line_to(walk->cr, walk->width - SHEET_MARGIN, walk->y - 2);
    cairo_stroke(walk->cr);
}

static void draw_picture_block(Walk *walk, const Block *block)
{
    double width = block->part * sheet_column(walk);
    double scale = sheet_picture_scale(block, width);

    if (walk->draws) {
        cairo_save(walk->cr);
        cairo_translate(walk->cr, SHEET_MARGIN + (sheet_column(walk) - width) / 2, walk->y);
        cairo_scale(walk->cr, scale, scale);
        picture_draw(walk->cr, block->picture, width / scale);
        cairo_restore(walk->cr);
    }
    walk->y += sheet_block_height(walk, block);
}

static void draw_frame(const Walk *walk, double height)
{
    cairo_rectangle(walk->cr, SHEET_MARGIN, walk->y - SHEET_BOX_PAD, sheet_column(walk),
                    height + 2 * SHEET_BOX_PAD);
    ink_set(walk->cr, INK_BLACK);
    cairo_set_line_width(walk->cr, 2.5);
    cairo_stroke(walk->cr);
}

static void draw_text_block(Walk *walk, const Block *block)
{
    Form form = sheet_form(walk, block);

    if (block->kind == BLOCK_BOX && walk->draws) draw_frame(walk, sheet_block_height(walk, block));
    if (block->kind == BLOCK_ITEM || block->kind == BLOCK_PAIR) {
        double left = sheet_hanging(walk, block);
        if (walk->draws) {
            Form mark = {.size = form.size, .bold = true, .width = left - 4};
            PangoLayout *layout = sheet_layout(walk, &mark, block->mark);
            ink_set(walk->cr, INK_BLACK);
            cairo_move_to(walk->cr, SHEET_MARGIN, walk->y);
            pango_cairo_show_layout(walk->cr, layout);
            g_object_unref(layout);
        }
        form.left += left;
        form.width -= left;
    }
    PangoLayout *layout = sheet_layout(walk, &form, block->text);
    flow(walk, layout, &form);
    g_object_unref(layout);
}

static const Block *block_at(const Walk *walk, guint at)
{
    return walk->sheet->blocks->pdata[at];
}

static bool is_row(const Walk *walk, guint at)
{
    return at < walk->sheet->blocks->len && block_at(walk, at)->kind == BLOCK_ROW;
}

/* A table begins with two rows at least, where it has them. */
static bool stays_with_next(const Walk *walk, guint at)
{
    const Block *block = block_at(walk, at);
    bool first = at > 0 && is_row(walk, at - 1) && block_at(walk, at - 1)->head;

    return block->kind == BLOCK_HEADING || block->kind == BLOCK_LABEL ||
           block->kind == BLOCK_TITLE || (block->kind == BLOCK_ROW && block->head) ||
           (first && is_row(walk, at + 1));
}

/* The names of the columns stand over what goes on on another page, too. */
static void repeat_head(Walk *walk, guint at)
{
    while (at > 0 && is_row(walk, at) && !block_at(walk, at)->head)
        at--;
    if (is_row(walk, at) && block_at(walk, at)->head) draw_row(walk, block_at(walk, at));
}

/* How much room a block wants on the page where it begins: its own, and that of what it stays with. A
 * block longer than half a page is content with a few lines. */
static double wanted(const Walk *walk, guint at)
{
    double sum = 0;

    for (; at < walk->sheet->blocks->len; at++) {
        const Block *block = walk->sheet->blocks->pdata[at];
        Form form = sheet_form(walk, block);
        double height = sheet_block_height(walk, block);
        bool breaks = block->kind != BLOCK_PICTURE && block->kind != BLOCK_BOX &&
                      block->kind != BLOCK_ROW && height > walk->height / 2;
        sum += form.above + (breaks ? walk->sheet->size_pt * 4 : height);
        if (!stays_with_next(walk, at)) break;
        sum += form.below;
    }
    return MIN(sum, bottom(walk) - SHEET_MARGIN);
}

/* Of the page that is being filled, 0 to 1. */
static double used(const Walk *walk)
{
    return (walk->y - SHEET_MARGIN) / (walk->height - 2 * SHEET_MARGIN - FOOTER);
}

static void draw_block(Walk *walk, guint at)
{
    const Block *block = walk->sheet->blocks->pdata[at];
    Form form = sheet_form(walk, block);

    if (block->kind == BLOCK_PAGE) {
        if (walk->y <= walk->height * PAGE_USED) return;
        walk->least = MIN(walk->least, used(walk));
        next_page(walk);
        return;
    }
    if (walk->y > SHEET_MARGIN && walk->y + wanted(walk, at) > bottom(walk)) {
        next_page(walk);
        if (block->kind == BLOCK_ROW && !block->head) repeat_head(walk, at);
    }
    if (block->kind == BLOCK_SPACE) {
        walk->y += sheet_block_height(walk, block);
        return;
    }
    if (walk->y > SHEET_MARGIN || block->kind == BLOCK_BOX) walk->y += form.above;
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

/* Gives how much of the last page is used, or of one that was left for a new one if that is less, and the number of pages. */
static double walk_all(Walk walk, int *pages, double *last)
{
    walk.least = 1;
    for (guint i = 0; i < walk.sheet->blocks->len && walk.page < PAGES_MAX; i++)
        draw_block(&walk, i);
    end_page(&walk);
    *pages = walk.page;
    *last = used(&walk);
    return MIN(*last, walk.least);
}

/* A short page is saved by setting all of it closer; where that does not do and there is hardly
 * anything on it, the pages before leave more of theirs to it. Nothing is made smaller to read. */
static void settle(Walk *walk)
{
    Walk tried = *walk;
    int pages;
    double last, after;

    if (walk_all(tried, &walk->pages, &last) >= PAGE_SHORT || walk->pages == 1) return;
    for (tried.close = 0.9; tried.close >= CLOSEST; tried.close -= 0.1)
        if (walk_all(tried, &pages, &after) >= PAGE_THIN && pages < walk->pages) {
            walk->close = tried.close;
            walk->pages = pages;
            return;
        }
    if (last >= PAGE_THIN) return;
    tried.close = 1;
    for (tried.spare = walk->height * 0.03; tried.spare < walk->height * SPARE_MOST;
         tried.spare += walk->height * 0.03)
        if (walk_all(tried, &pages, &after) >= PAGE_THIN && pages == walk->pages) {
            walk->spare = tried.spare;
            return;
        }
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
    Walk walk = {.cr = cr,
                 .sheet = sheet,
                 .width = width,
                 .height = height,
                 .close = 1,
                 .y = SHEET_MARGIN,
                 .page = 1};
    int drawn;
    double last;

    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_TITLE, sheet->title);
    cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_CREATOR, "osier");
    if (sheet->made != NULL)
        cairo_pdf_surface_set_metadata(surface, CAIRO_PDF_METADATA_CREATE_DATE, sheet->made);
    settle(&walk);
    walk.draws = true;
    walk_all(walk, &drawn, &last);
    g_assert(drawn == walk.pages);
    cairo_destroy(cr);
    cairo_surface_finish(surface);
    cairo_surface_destroy(surface);
    return g_byte_array_free_to_bytes(bytes);
}
