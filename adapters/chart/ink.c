/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/chart/ink.h"

#include <string.h>

enum { TEXT_MOST = 8000 };

void ink_set(cairo_t *cr, Ink ink)
{
    static const double COLOURS[][3] = {
        [INK_BLACK] = {0.09, 0.10, 0.12}, [INK_BLUE] = {0.00, 0.447, 0.698},
        [INK_ORANGE] = {0.90, 0.62, 0.0}, [INK_RED] = {0.835, 0.369, 0.0},
        [INK_GREY] = {0.36, 0.39, 0.43},  [INK_PALE] = {0.80, 0.82, 0.84},
        [INK_LINE] = {0.88, 0.89, 0.90},  [INK_WHITE] = {1, 1, 1},
    };

    cairo_set_source_rgb(cr, COLOURS[ink][0], COLOURS[ink][1], COLOURS[ink][2]);
}

/* Valid, no control characters (line breaks stay), and no longer than anything osier writes. */
static char *printable(const char *text)
{
    g_autofree char *valid = g_utf8_make_valid(text != NULL ? text : "", -1);
    GString *out = g_string_new(NULL);

    for (const char *at = valid; *at != '\0' && out->len < TEXT_MOST; at = g_utf8_next_char(at)) {
        gunichar letter = g_utf8_get_char(at);
        bool control = g_unichar_iscntrl(letter) && letter != '\n';
        g_string_append_unichar(out, control ? ' ' : letter);
    }
    return g_string_free(out, FALSE);
}

/* fontconfig keeps what it read of the machine's fonts until the process ends; freeing it while any
 * thread still has a font would end the process. Told to who looks for leaks. */
#ifdef __SANITIZE_ADDRESS__
const char *__lsan_default_suppressions(void);
const char *__lsan_default_options(void);

const char *__lsan_default_options(void)
{
    return "print_suppressions=0";
}

const char *__lsan_default_suppressions(void)
{
    return "leak:libfontconfig.so";
}
#endif

PangoLayout *ink_layout(cairo_t *cr, double size, bool bold, const char *text)
{
    PangoLayout *layout = pango_cairo_create_layout(cr);
    PangoFontDescription *font = pango_font_description_from_string("DejaVu Sans, Sans");
    g_autofree char *shown = printable(text);

    pango_font_description_set_absolute_size(font, size * PANGO_SCALE);
    if (bold) pango_font_description_set_weight(font, PANGO_WEIGHT_BOLD);
    pango_layout_set_font_description(layout, font);
    pango_font_description_free(font);
    pango_layout_set_text(layout, shown, -1);
    return layout;
}

double ink_text(cairo_t *cr, double x, double y, const char *text, TextStyle style)
{
    PangoLayout *layout = ink_layout(cr, style.size, style.bold, text);
    PangoRectangle box;

    pango_layout_set_single_paragraph_mode(layout, TRUE);
    if (style.width > 0) {
        pango_layout_set_ellipsize(layout, PANGO_ELLIPSIZE_END);
        pango_layout_set_width(layout, (int)(style.width * PANGO_SCALE));
        /* A name from right to left begins at the left all the same: names stand in one column. */
        pango_layout_set_auto_dir(layout, FALSE);
    }
    pango_layout_get_extents(layout, NULL, &box);
    double width = (double)box.width / PANGO_SCALE;
    double height = (double)box.height / PANGO_SCALE;
    double left = x - (style.align == ALIGN_LEFT     ? 0
                       : style.align == ALIGN_CENTRE ? width / 2
                                                     : width);
    if (style.halo) {
        cairo_save(cr);
        ink_set(cr, INK_WHITE);
        cairo_rectangle(cr, left - style.size * 0.25, y - height / 2, width + style.size * 0.5,
                        height);
        cairo_fill(cr);
        cairo_restore(cr);
    }
    cairo_move_to(cr, left - (double)box.x / PANGO_SCALE, y - height / 2);
    pango_cairo_show_layout(cr, layout);
    g_object_unref(layout);
    return width;
}

/* Lines over the rectangle that is clipped to. */
static void hatch(cairo_t *cr, double x, double y, double width, double height, double gap)
{
    for (double at = x - height; at < x + width; at += gap) {
        cairo_move_to(cr, at, y + height);
        cairo_line_to(cr, at + height, y);
    }
    cairo_stroke(cr);
}

/* Lines or dots within the rectangle. */
static void ink_pattern(cairo_t *cr, int state, double x, double y, double width, double height)
{
    cairo_save(cr);
    cairo_rectangle(cr, x, y, width, height);
    cairo_clip(cr);
    cairo_set_line_width(cr, 1.6);
    ink_set(cr, state == 1 ? INK_BLUE : INK_GREY);
    if (state == 1) hatch(cr, x, y, width, height, 4);
    if (state == 4) {
        static const double DOTS[] = {1.5, 3.5};
        cairo_set_dash(cr, DOTS, 2, 0);
        for (double line = y + 3; line < y + height; line += 5) {
            cairo_move_to(cr, x + 1, line);
            cairo_line_to(cr, x + width, line);
        }
        cairo_stroke(cr);
    }
    cairo_restore(cr);
}

void ink_state(cairo_t *cr, int state, double x, double y, double width, double height)
{
    static const Ink FILLS[6] = {INK_BLUE, INK_WHITE, INK_ORANGE, INK_WHITE, INK_WHITE, INK_PALE};
    bool patterned = state == 1 || state == 4;

    if (width <= 0 || height <= 0) return;
    ink_set(cr, FILLS[state]);
    cairo_rectangle(cr, x, y, width, height);
    cairo_fill(cr);
    if (patterned) ink_pattern(cr, state, x, y, width, height);
    if (state == 0) return;
    cairo_set_line_width(cr, 0.8);
    ink_set(cr, state == 1 ? INK_BLUE : INK_GREY);
    cairo_rectangle(cr, x + 0.4, y + 0.4, MAX(0.1, width - 0.8), MAX(0.1, height - 0.8));
    cairo_stroke(cr);
}

/* A cell for each name wide enough for the longest: by characters, since height must be known before
 * anything is drawn. */
static int keys_in_row(char *const states[6], double width, double size, double *cell)
{
    glong longest = 0;

    for (int i = 0; i < 6; i++)
        longest = MAX(longest, g_utf8_strlen(states[i], -1));
    *cell = size * 2.2 + (double)longest * size * 0.66;
    return CLAMP((int)(width / *cell), 1, 6);
}

double ink_states_key_height(char *const states[6], double width, double size)
{
    double cell;
    int in_row = keys_in_row(states, width, size, &cell);
    int rows = (6 + in_row - 1) / in_row;

    return rows * size * 1.6;
}

double ink_states_key(cairo_t *cr, char *const states[6], double x, double y, double width,
                      double size)
{
    double cell;
    int in_row = keys_in_row(states, width, size, &cell);

    for (int i = 0; i < 6; i++) {
        double left = x + i % in_row * cell;
        int row = i / in_row;
        double middle = y + (row + 0.5) * size * 1.6;
        ink_state(cr, i, left, middle - size / 2, size * 1.2, size);
        ink_set(cr, INK_BLACK);
        ink_text(cr, left + size * 1.6, middle, states[i], (TextStyle){.size = size});
    }
    return ink_states_key_height(states, width, size);
}
