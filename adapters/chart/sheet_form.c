/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/chart/sheet_form.h"

#include <math.h>

#define FIGURES_WIDTH 720.0
#define GAP 0.38      /* between blocks, of the size of the text */
#define LINE_AIR 0.12 /* of a line's height, between two lines */

double sheet_column(const Walk *walk)
{
    return walk->width - 2 * SHEET_MARGIN;
}

/* What stands between blocks, a frame's own room left as it is. */
static double closer(const Walk *walk, double length, bool framed)
{
    double fixed = framed ? SHEET_BOX_PAD : 0;

    return fixed + (length - fixed) * walk->close;
}

Form sheet_form(const Walk *walk, const Block *block)
{
    double size = walk->sheet->size_pt;
    Form form = {.size = size,
                 .ink = INK_BLACK,
                 .width = sheet_column(walk),
                 .below = size * GAP,
                 .tag = "P"};

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
        form.left = SHEET_BOX_PAD;
        form.width -= 2 * SHEET_BOX_PAD;
        form.above = SHEET_BOX_PAD + size * 0.3;
        form.below = SHEET_BOX_PAD + size * 0.5;
    }
    bool framed = block->kind == BLOCK_BOX;
    form.above = closer(walk, form.above, framed);
    form.below = closer(walk, form.below, framed);
    return form;
}

PangoLayout *sheet_layout(const Walk *walk, const Form *form, const char *text)
{
    PangoLayout *layout = ink_layout(walk->cr, form->size, form->bold, text);

    pango_layout_set_width(layout, (int)(form->width * PANGO_SCALE));
    pango_layout_set_wrap(layout, PANGO_WRAP_WORD_CHAR);
    pango_layout_set_line_spacing(layout, (float)(1 + LINE_AIR * walk->close));
    return layout;
}

double sheet_layout_height(PangoLayout *layout)
{
    PangoRectangle box;

    pango_layout_get_extents(layout, NULL, &box);
    return (double)box.height / PANGO_SCALE;
}

double sheet_hanging(const Walk *walk, const Block *block)
{
    return block->kind == BLOCK_PAIR ? sheet_column(walk) * 0.3 : walk->sheet->size_pt * 1.7;
}

static double row_height(const Walk *walk, const Block *block)
{
    Form form = sheet_form(walk, block);
    double most = 0;

    form.bold = block->head;
    for (guint i = 0; i < block->cells->len; i++) {
        form.width = block->share[i] * sheet_column(walk) - SHEET_CELL_GAP;
        PangoLayout *layout = sheet_layout(walk, &form, block->cells->pdata[i]);
        most = MAX(most, sheet_layout_height(layout));
        g_object_unref(layout);
    }
    return most + 5;
}

double sheet_picture_scale(const Block *block, double width)
{
    return block->picture->setup != NULL ? 1 : MIN(1, width / FIGURES_WIDTH);
}

static double picture_room(const Block *block, double width)
{
    double scale = sheet_picture_scale(block, width);

    return picture_height(block->picture, width / scale) * scale;
}

double sheet_block_height(const Walk *walk, const Block *block)
{
    Form form = sheet_form(walk, block);

    if (block->kind == BLOCK_PAGE) return 0;
    if (block->kind == BLOCK_SPACE) return walk->sheet->size_pt * walk->close;
    if (block->kind == BLOCK_ROW) return row_height(walk, block);
    if (block->kind == BLOCK_PICTURE) return picture_room(block, block->part * sheet_column(walk));
    if (block->kind == BLOCK_ITEM || block->kind == BLOCK_PAIR)
        form.width -= sheet_hanging(walk, block);
    PangoLayout *layout = sheet_layout(walk, &form, block->text);
    double height = sheet_layout_height(layout);
    g_object_unref(layout);
    return height;
}
