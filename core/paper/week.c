/* SPDX-License-Identifier: Apache-2.0 */
#include "core/paper/week.h"

#include "core/paper/words.h"
#include "core/talk/wording.h"

static void add(Paper *sheet, BlockKind kind, const Pack *pack, const char *key)
{
    g_autofree char *text = wording(pack, key, NULL);

    paper_add(sheet, kind, text);
}

static void add_lines(Paper *sheet, BlockKind kind, GPtrArray *lines)
{
    for (guint i = 0; i < lines->len; i++)
        paper_add(sheet, kind, lines->pdata[i]);
    g_ptr_array_unref(lines);
}

static void append_line(GString *out, char *line)
{
    if (line != NULL) g_string_append_printf(out, "%s%s", out->len > 0 ? "\n" : "", line);
    g_free(line);
}

static void add_call(Paper *sheet, const Pack *pack, const DigestCall *call, guint number)
{
    g_autofree char *mark = g_strdup_printf("%u", number);
    g_autofree char *phone = wording_phone(call->phone != NULL ? call->phone : "");
    g_autofree char *line = digest_words_line(call->name);
    g_autofree char *name = wording_name(line);
    GString *text = g_string_new(NULL);

    append_line(text, g_strdup_printf("%s (%s)  %s", name, call->client, phone));
    for (guint i = 0; i < call->reasons->len; i++)
        append_line(text, digest_words_matter(call->reasons->pdata[i], pack));
    if (call->needs != NULL)
        append_line(text, wording(pack, "digest-needs", "value", call->needs, NULL));
    paper_mark(sheet, BLOCK_ITEM, mark, text->str);
    g_string_free(text, TRUE);
}

static char *state_of(const Pack *pack, const DigestClient *client)
{
    g_autoptr(GPtrArray) lines = digest_words_state(client, pack);

    g_ptr_array_add(lines, NULL);
    return g_strjoinv("\n", (char **)lines->pdata);
}

static void add_clients(Paper *sheet, const Pack *pack, const Digest *digest)
{
    static const double SHARE[] = {0.24, 0.22, 0.22, 0.32};
    static const char *const HEAD[] = {"digest-column-client", "digest-column-sessions",
                                       "digest-column-felt", "digest-column-matters"};
    char *head[G_N_ELEMENTS(HEAD)];

    add(sheet, BLOCK_HEADING, pack, "digest-clients");
    for (size_t i = 0; i < G_N_ELEMENTS(HEAD); i++)
        head[i] = wording(pack, HEAD[i], NULL);
    paper_row(sheet, true, SHARE, G_N_ELEMENTS(HEAD), (const char *const *)head);
    for (size_t i = 0; i < G_N_ELEMENTS(HEAD); i++)
        g_free(head[i]);
    for (guint i = 0; i < digest->clients->len; i++) {
        const DigestClient *client = digest->clients->pdata[i];
        g_autofree char *name = digest_words_line(client->name);
        g_autofree char *who =
            client->stage != NULL ? g_strdup_printf("%s\n%s", name, client->stage) : g_strdup(name);
        g_autofree char *counts = digest_words_counts(client->counts, pack);
        g_autofree char *felt = digest_words_felt(client, pack);
        g_autofree char *state = state_of(pack, client);
        const char *const cells[] = {who, counts, felt, state};
        paper_row(sheet, false, SHARE, G_N_ELEMENTS(cells), cells);
    }
}

Paper *week_sheet(const Pack *pack, const Digest *digest, Picture *picture, bool letter)
{
    g_autofree char *heading = digest_words_heading(digest, pack);
    Paper *sheet = paper_new(heading, WEEK_PT, letter);

    sheet->footer = g_strdup(digest->clinic);
    sheet->page_words = g_strdup(pack_text(pack, "paper-page"));
    paper_add(sheet, BLOCK_TITLE, heading);
    paper_add(sheet, BLOCK_SMALL, digest->clinic);
    add_lines(sheet, BLOCK_LABEL, digest_words_first(digest, pack));
    add(sheet, BLOCK_HEADING, pack, "digest-calls");
    if (digest->calls->len == 0) add(sheet, BLOCK_TEXT, pack, "digest-no-calls");
    for (guint i = 0; i < digest->calls->len; i++)
        add_call(sheet, pack, digest->calls->pdata[i], i + 1);
    add(sheet, BLOCK_HEADING, pack, "digest-clinic");
    add_lines(sheet, BLOCK_TEXT, digest_words_clinic(digest, pack));
    if (picture != NULL) {
        paper_add(sheet, BLOCK_HEADING, picture->title);
        paper_picture(sheet, picture, 1);
    }
    if (digest->clients->len > 0) add_clients(sheet, pack, digest);
    return sheet;
}
