/* SPDX-License-Identifier: Apache-2.0 */
/* The digest as one page for mail: styles inline, for many mail programs heed no others; one column that fits a telephone,
 * three columns of a plain table; no link, pictures that the text tells as well, nothing told by colour alone. */
#include "core/talk/wording.h"
#include "core/watch/digest_words.h"

#define CELL                                                                                       \
    "padding:6px 8px 6px 0;border-bottom:1px solid #cfc9bc;text-align:left;vertical-align:top"
#define PAGE                                                                                       \
    "margin:0;padding:16px;font-family:Verdana,'DejaVu Sans',sans-serif;font-size:15px;"           \
    "line-height:1.45;color:#1d252c;background:#fff"
#define HEADING "<h2 style=\"font-size:19px;margin:24px 0 8px\">"
#define SOFT "color:#55606a"

/* Text with markup made harmless. */
static void put_text(GString *out, const char *text)
{
    g_autofree char *line = digest_words_line(text);
    g_autofree char *escaped = g_markup_escape_text(line, -1);

    g_string_append(out, escaped);
}

static void put_element(GString *out, const char *open, const char *text, const char *close)
{
    g_string_append(out, open);
    put_text(out, text);
    g_string_append(out, close);
}

static void put_key(GString *out, const Pack *pack, const char *open, const char *key,
                    const char *close)
{
    g_autofree char *text = wording(pack, key, NULL);

    put_element(out, open, text, close);
}

static void put_lines(GString *out, const GPtrArray *lines)
{
    for (guint i = 0; i < lines->len; i++)
        put_element(out, i > 0 ? "<br>" : "", lines->pdata[i], "\n");
}

static void put_call(GString *out, const DigestCall *call, const Pack *pack)
{
    g_autofree char *phone = call->phone != NULL ? wording_phone(call->phone) : NULL;

    g_autofree char *name = wording_name(call->name);

    put_element(out, "<li style=\"margin:0 0 10px\"><strong>", name, "</strong>");
    put_element(out, " <span style=\"" SOFT "\">(", call->client, ")</span>");
    if (phone != NULL) put_element(out, "<br><strong>", phone, "</strong>");
    for (guint i = 0; i < call->reasons->len; i++) {
        g_autofree char *words = digest_words_matter(call->reasons->pdata[i], pack);
        put_element(out, "<br>", words, "");
    }
    if (call->needs != NULL) {
        g_autofree char *needs = wording(pack, "digest-needs", "value", call->needs, NULL);
        put_element(out, "<br><strong>", needs, "</strong>");
    }
    g_string_append(out, "</li>\n");
}

static void put_calls(GString *out, const Digest *digest, const Pack *pack)
{
    put_key(out, pack, HEADING, "digest-calls", "</h2>\n");
    if (digest->calls->len == 0) {
        put_key(out, pack, "<p>", "digest-no-calls", "</p>\n");
        return;
    }
    g_string_append(out, "<ol style=\"margin:0;padding-left:24px\">\n");
    for (guint i = 0; i < digest->calls->len; i++)
        put_call(out, g_ptr_array_index(digest->calls, i), pack);
    g_string_append(out, "</ol>\n");
}

static void put_client(GString *out, const DigestClient *client, const Pack *pack)
{
    g_autofree char *counts = digest_words_counts(client->counts, pack);
    g_autofree char *felt = digest_words_felt(client, pack);
    g_autoptr(GPtrArray) state = digest_words_state(client, pack);

    put_element(out, "<tr><td style=\"" CELL "\"><strong>", client->name, "</strong>");
    if (client->stage != NULL) put_element(out, "<br>", client->stage, "");
    put_element(out, "<br><span style=\"font-size:12px;" SOFT "\">", client->client, "</span>");
    put_element(out, "</td><td style=\"" CELL "\">", counts, "");
    if (felt != NULL) put_element(out, "<br>", felt, "");
    g_string_append(out, "</td><td style=\"" CELL "\">");
    put_lines(out, state);
    g_string_append(out, "</td></tr>\n");
}

static void put_clients(GString *out, const Digest *digest, const Pack *pack)
{
    static const char *const COLUMNS[] = {"digest-column-client", "digest-column-sessions",
                                          "digest-column-matters"};

    if (digest->clients->len == 0) return;
    put_key(out, pack, HEADING, "digest-clients", "</h2>\n");
    g_string_append(
        out, "<table style=\"border-collapse:collapse;table-layout:fixed;width:100%;font-size:14px;"
             "overflow-wrap:break-word\">\n<tr>");
    for (size_t i = 0; i < G_N_ELEMENTS(COLUMNS); i++)
        put_key(out, pack, "<th scope=\"col\" style=\"" CELL "\">", COLUMNS[i], "</th>");
    g_string_append(out, "</tr>\n");
    for (guint i = 0; i < digest->clients->len; i++)
        put_client(out, g_ptr_array_index(digest->clients, i), pack);
    g_string_append(out, "</table>\n");
}

static void put_first(GString *out, const Digest *digest, const Pack *pack)
{
    g_autoptr(GPtrArray) lines = digest_words_first(digest, pack);

    g_string_append(out, "<p style=\"font-size:18px;margin:0;padding:10px 14px;"
                         "background:#e4eeee;border-left:5px solid #17414a\">");
    put_lines(out, lines);
    g_string_append(out, "</p>\n");
}

static void put_pictures(GString *out, const Digest *digest)
{
    for (guint i = 0; i < digest->pictures->len; i++) {
        const DigestPicture *picture = digest->pictures->pdata[i];
        put_element(out, HEADING, picture->title, "</h2>\n");
        put_element(out, "<p style=\"margin:0\"><img alt=\"", picture->alt, "\" ");
        g_string_append_printf(out,
                               "width=\"%d\" style=\"max-width:100%%;height:auto\" "
                               "src=\"data:image/png;base64,%s\"></p>\n",
                               DIGEST_PICTURE_WIDTH, picture->png);
    }
}

static void put_clinic(GString *out, const Digest *digest, const Pack *pack)
{
    g_autoptr(GPtrArray) lines = digest_words_clinic(digest, pack);

    put_key(out, pack, HEADING, "digest-clinic", "</h2>\n<p style=\"margin:0\">");
    put_lines(out, lines);
    g_string_append(out, "</p>\n");
}

char *digest_html(const Digest *digest, const Pack *pack)
{
    GString *out = g_string_new("<!DOCTYPE html>\n");
    g_autofree char *heading = digest_words_heading(digest, pack);

    g_string_append_printf(
        out,
        "<html lang=\"%s\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" "
        "content=\"width=device-width\"><meta name=\"color-scheme\" "
        "content=\"light\">",
        pack_language(pack));
    put_element(out, "<title>", heading, "</title></head>\n");
    g_string_append(out, "<body style=\"" PAGE "\">\n<div style=\"max-width:640px\">\n");
    put_element(out, "<h1 style=\"font-size:24px;margin:0\">", digest->clinic, "</h1>\n");
    put_element(out, "<p style=\"margin:0 0 14px;" SOFT "\">", heading, "</p>\n");
    put_first(out, digest, pack);
    put_calls(out, digest, pack);
    put_clinic(out, digest, pack);
    put_pictures(out, digest);
    put_clients(out, digest, pack);
    g_string_append(out, "</div>\n</body></html>\n");
    return g_string_free(out, FALSE);
}
