/* SPDX-License-Identifier: Apache-2.0 */
/* The edges of letters and lines are what makes colours many. Each channel is rounded to fewer and fewer steps until the
 * colours go into one byte; black and white stay what they are. */
#include "adapters/chart/palette.h"

#include <png.h>
#include <stdbool.h>
#include <string.h>

enum { COLOURS_MOST = 256, SLOTS = 1024, BITS_LEAST = 2 };

typedef struct {
    int n;
    guint32 colours[COLOURS_MOST];
    gint16 slots[SLOTS]; /* by hash: number of the colour + 1; 0 is free */
} Palette;

/* One channel in 2^bits steps from 0 to 255. */
static guint32 rounded(guint32 value, int bits)
{
    guint32 steps = (1u << bits) - 1;

    return (value * steps + 127) / 255 * 255 / steps;
}

static guint32 colour_of(guint32 pixel, int bits)
{
    return rounded(pixel >> 16 & 255, bits) << 16 | rounded(pixel >> 8 & 255, bits) << 8 |
           rounded(pixel & 255, bits);
}

/* The colour's number, new where it is; -1 where there is no room for it. */
static int number_of(Palette *palette, guint32 colour)
{
    guint32 slot = colour * 2654435761u >> 22; /* Knuth's multiplicative hash, from memory */

    for (; palette->slots[slot] != 0; slot = (slot + 1) % SLOTS)
        if (palette->colours[palette->slots[slot] - 1] == colour) return palette->slots[slot] - 1;
    if (palette->n == COLOURS_MOST) return -1;
    palette->colours[palette->n++] = colour;
    palette->slots[slot] = (gint16)palette->n;
    return palette->n - 1;
}

/* False where the colours are too many. */
static bool fill(Palette *palette, guint8 *bytes, cairo_surface_t *image, int bits)
{
    int width = cairo_image_surface_get_width(image),
        height = cairo_image_surface_get_height(image);
    const unsigned char *data = cairo_image_surface_get_data(image);

    memset(palette, 0, sizeof *palette);
    for (int y = 0; y < height; y++) {
        const guint32 *row =
            (const void *)(data + (size_t)y * (size_t)cairo_image_surface_get_stride(image));
        guint32 last = ~row[0];
        int number = 0;
        for (int x = 0; x < width; x++) {
            if (row[x] != last) number = number_of(palette, colour_of(row[x], bits));
            if (number < 0) return false;
            last = row[x];
            *bytes++ = (guint8)number;
        }
    }
    return true;
}

static GBytes *write_png(const Palette *palette, const guint8 *bytes, int width, int height)
{
    png_image head = {.version = PNG_IMAGE_VERSION,
                      .width = (png_uint_32)width,
                      .height = (png_uint_32)height,
                      .format = PNG_FORMAT_RGB_COLORMAP,
                      .colormap_entries = (png_uint_32)palette->n};
    guint8 colours[COLOURS_MOST * 3];
    png_alloc_size_t size = PNG_IMAGE_PNG_SIZE_MAX(head);
    guint8 *out = g_malloc(size);

    for (int i = 0; i < palette->n; i++)
        for (int channel = 0; channel < 3; channel++)
            colours[i * 3 + channel] = palette->colours[i] >> (16 - 8 * channel) & 255;
    if (png_image_write_to_memory(&head, out, &size, 0, bytes, width, colours) == 0) {
        g_free(out);
        return NULL;
    }
    return g_bytes_new_take(g_realloc(out, size), size);
}

GBytes *palette_png(cairo_surface_t *image)
{
    int width = cairo_image_surface_get_width(image),
        height = cairo_image_surface_get_height(image);
    g_autofree guint8 *bytes = g_malloc((size_t)width * (size_t)height);
    g_autofree Palette *palette = g_new(Palette, 1);
    int bits = 8;

    cairo_surface_flush(image);
    while (!fill(palette, bytes, image, bits) && bits > BITS_LEAST)
        bits--;
    return write_png(palette, bytes, width, height);
}
