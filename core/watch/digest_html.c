/* SPDX-License-Identifier: Apache-2.0 */
/* The digest as one page for mail: a plain table, styles inline, no link, pictures that the text tells as
 * well, nothing told by colour alone. */
#include "core/talk/wording.h"
#include "core/watch/digest_words.h"

#define CELL "padding:4px 8px;border-bottom:1px solid #999;text-align:left;vertical-align:top"

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

static void put_matters(GString *out, const GPtrArray *matters, const Pack *pack)
{
    for (guint i = 0; i < matters->len; i++) {
        g_autofree char *words = digest_words_matter(g_ptr_array_index(matters, i), pack);
        put_element(out, "<br>", words, "");
    }
}

static void put_call(GString *out, const DigestCall *call, const Pack *pack)
{
    g_autofree char *head =
        g_strdup_printf("(%s)%s%s", call->client, call->phone != NULL ? ", " : "",
                        call->phone != NULL ? call->phone : "");

    put_element(out, "<li><strong>", call->name, "</strong> ");
    put_text(out, head);
    put_matters(out, call->reasons, pack);
    if (call->needs != NULL) {
        g_autofree char *needs = wording(pack, "digest-needs", "value", call->needs, NULL);
        put_element(out, "<br>", needs, "");
    }
    g_string_append(out, "</li>\n");
}

static void put_calls(GString *out, const Digest *digest, const Pack *pack)
{
    put_key(out, pack, "<h2>", "digest-calls", "</h2>\n");
    if (digest->calls->len == 0) {
        put_key(out, pack, "<p>", "digest-no-calls", "</p>\n");
        return;
    }
    g_string_append(out, "<ol>\n");
    for (guint i = 0; i < digest->calls->len; i++)
        put_call(out, g_ptr_array_index(digest->calls, i), pack);
    g_string_append(out, "</ol>\n");
}

/* The lines of the last column: what keeps messages back, alerts, readiness. */
static void put_state(GString *out, const DigestClient *client, const Pack *pack)
{
    g_autoptr(GPtrArray) lines = g_ptr_array_new_with_free_func(g_free);
    char *bar = digest_words_bar(client->bar, pack);
    char *ready = digest_words_ready(client->readiness, pack);

    if (bar != NULL) g_ptr_array_add(lines, bar);
    for (guint i = 0; i < client->alerts->len; i++)
        g_ptr_array_add(lines, digest_words_matter(g_ptr_array_index(client->alerts, i), pack));
    if (ready != NULL) g_ptr_array_add(lines, ready);
    for (guint i = 0; i < lines->len; i++)
        put_element(out, i > 0 ? "<br>" : "", g_ptr_array_index(lines, i), "");
}

static void put_client(GString *out, const DigestClient *client, const Pack *pack)
{
    g_autofree char *counts = digest_words_counts(client->counts, pack);
    g_autofree char *intensity = digest_words_number(client->intensity, client->has_intensity_trend,
                                                     client->intensity_trend, pack);
    g_autofree char *pain =
        digest_words_number(client->pain, client->has_pain_trend, client->pain_trend, pack);

    put_element(out, "<tr><td style=\"" CELL "\"><strong>", client->name, "</strong> (");
    put_element(out, "", client->client, ")");
    if (client->stage != NULL) put_element(out, "<br>", client->stage, "");
    put_element(out, "</td><td style=\"" CELL "\">", counts, "</td>");
    put_element(out, "<td style=\"" CELL "\">", intensity, "</td>");
    put_element(out, "<td style=\"" CELL "\">", pain, "</td><td style=\"" CELL "\">");
    put_state(out, client, pack);
    g_string_append(out, "</td></tr>\n");
}

static void put_clients(GString *out, const Digest *digest, const Pack *pack)
{
    static const char *const COLUMNS[] = {"digest-column-client", "digest-column-sessions",
                                          "digest-column-stretch", "digest-column-pain",
                                          "digest-column-matters"};

    if (digest->clients->len == 0) return;
    put_key(out, pack, "<h2>", "digest-clients", "</h2>\n");
    g_string_append(out, "<table style=\"border-collapse:collapse\">\n<tr>");
    for (size_t i = 0; i < G_N_ELEMENTS(COLUMNS); i++)
        put_key(out, pack, "<th style=\"" CELL "\">", COLUMNS[i], "</th>");
    g_string_append(out, "</tr>\n");
    for (guint i = 0; i < digest->clients->len; i++)
        put_client(out, g_ptr_array_index(digest->clients, i), pack);
    g_string_append(out, "</table>\n");
}

static void put_first(GString *out, const Digest *digest, const Pack *pack)
{
    g_autoptr(GPtrArray) lines = digest_words_first(digest, pack);

    g_string_append(out, "<p style=\"font-size:120%\">");
    for (guint i = 0; i < lines->len; i++)
        put_element(out, i > 0 ? "<br>" : "", lines->pdata[i], "\n");
    g_string_append(out, "</p>\n");
}

static void put_pictures(GString *out, const Digest *digest)
{
    for (guint i = 0; i < digest->pictures->len; i++) {
        const DigestPicture *picture = digest->pictures->pdata[i];
        put_element(out, "<h2>", picture->title, "</h2>\n");
        put_element(out, "<p><img alt=\"", picture->alt, "\" ");
        g_string_append_printf(out,
                               "width=\"560\" style=\"max-width:100%%;height:auto\" "
                               "src=\"data:image/png;base64,%s\"></p>\n",
                               picture->png);
    }
}

static void put_clinic(GString *out, const Digest *digest, const Pack *pack)
{
    g_autoptr(GPtrArray) lines = digest_words_clinic(digest, pack);

    put_key(out, pack, "<h2>", "digest-clinic", "</h2>\n<p>");
    for (guint i = 0; i < lines->len; i++)
        put_element(out, i > 0 ? "<br>" : "", g_ptr_array_index(lines, i), "\n");
    g_string_append(out, "</p>\n");
}

char *digest_html(const Digest *digest, const Pack *pack)
{
    GString *out = g_string_new("<!DOCTYPE html>\n");
    g_autofree char *heading = digest_words_heading(digest, pack);

    g_string_append_printf(out, "<html lang=\"%s\"><head><meta charset=\"utf-8\">",
                           pack_language(pack));
    put_element(out, "<title>", heading, "</title></head>\n");
    g_string_append(out, "<body style=\"font-family:sans-serif;color:#111;background:#fff\">\n");
    put_element(out, "<h1>", digest->clinic, "</h1>\n");
    put_element(out, "<p>", heading, "</p>\n");
    put_first(out, digest, pack);
    put_calls(out, digest, pack);
    put_clinic(out, digest, pack);
    put_pictures(out, digest);
    put_clients(out, digest, pack);
    g_string_append(out, "</body></html>\n");
    return g_string_free(out, FALSE);
}
