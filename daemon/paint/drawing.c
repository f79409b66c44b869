/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/paint/drawing.h"

#include <string.h>

/* What the digest may weigh, its pictures in base64, before it is put into a mail's lines: that stays under 300 kB for 60
 * clients. */
#define DIGEST_WEIGHT (265 * 1024)

Drawing *drawing_of_picture(Picture *picture, ChartFormat format, double width)
{
    Drawing *drawing = g_new0(Drawing, 1);

    *drawing = (Drawing){.picture = picture, .format = format, .width = width};
    return drawing;
}

Drawing *drawing_of_sheet(Paper *sheet, const char *file)
{
    Drawing *drawing = g_new0(Drawing, 1);

    *drawing = (Drawing){.sheet = sheet, .format = CHART_PDF, .file = g_strdup(file)};
    return drawing;
}

Drawing *drawing_of_digest(Digest *digest, GPtrArray *pictures, const Settings *settings)
{
    Drawing *drawing = g_new0(Drawing, 1);

    *drawing = (Drawing){.digest = digest,
                         .pictures = pictures,
                         .settings = settings_ref((Settings *)settings),
                         .format = CHART_MAIL};
    return drawing;
}

void drawing_free(Drawing *drawing)
{
    if (drawing == NULL) return;
    picture_free(drawing->picture);
    paper_free(drawing->sheet);
    digest_free(drawing->digest);
    g_clear_pointer(&drawing->pictures, g_ptr_array_unref);
    settings_unref(drawing->settings);
    g_free(drawing->file);
    g_free(drawing);
}

/* Takes the page over. */
static char *in_document(char *html)
{
    json_t *document = json_pack("{s:s, s:s}", "format", "html", "page", html);
    char *text = json_dumps(document, JSON_COMPACT);

    json_decref(document);
    g_free(html);
    return text;
}

/* The page and the text that goes with it. */
static size_t weight_of_words(const Digest *digest, const Pack *pack)
{
    g_autofree char *html = digest_html(digest, pack);
    g_autofree char *text = digest_text(digest, pack);

    return strlen(html) + strlen(text);
}

/* The page with the pictures in it: the first, which is of all clients, and as many as fit. */
static GBytes *draw_digest(const Drawing *drawing)
{
    const Clinic *clinic = settings_clinic(drawing->settings);
    const Pack *pack = settings_pack(drawing->settings, clinic->language);

    g_ptr_array_set_size(drawing->digest->pictures, 0);
    size_t weight = weight_of_words(drawing->digest, pack);
    for (guint i = 0; i < drawing->pictures->len; i++) {
        const Picture *picture = drawing->pictures->pdata[i];
        g_autoptr(GBytes) png = chart_picture(picture, CHART_MAIL, DIGEST_PICTURE_WIDTH);
        gsize length;
        const void *bytes = g_bytes_get_data(png, &length);
        weight += length * 4 / 3;
        if (i > 0 && weight > DIGEST_WEIGHT) break;
        digest_picture(drawing->digest, picture->title, picture->alt, bytes, length);
    }
    char *html = digest_html(drawing->digest, pack);
    if (drawing->document) html = in_document(html);
    return g_bytes_new_take(html, strlen(html));
}

GBytes *drawing_draw(const Drawing *drawing)
{
    if (drawing->digest != NULL) return draw_digest(drawing);
    if (drawing->sheet != NULL) return chart_sheet(drawing->sheet);
    return chart_picture(drawing->picture, drawing->format, drawing->width);
}

const char *drawing_type(const Drawing *drawing)
{
    static const char *const TYPES[] = {[CHART_SVG] = "image/svg+xml",
                                        [CHART_PNG] = "image/png",
                                        [CHART_MAIL] = "image/png",
                                        [CHART_PDF] = "application/pdf"};

    if (drawing->digest != NULL) return drawing->document ? "application/json" : "text/html";
    return TYPES[drawing->format];
}
