/* SPDX-License-Identifier: Apache-2.0 */
/* The digest as plain text, to be read in one look on any screen. */
#include "core/talk/wording.h"
#include "core/watch/digest_words.h"

enum { COLUMNS = 72 };

static int width_of(gunichar letter)
{
    if (g_unichar_iszerowidth(letter)) return 0;
    return g_unichar_iswide(letter) ? 2 : 1;
}

/* The columns that a word takes, up to the next space. */
static int word_width(const char *word)
{
    int width = 0;

    for (; *word != '\0' && *word != ' '; word = g_utf8_next_char(word))
        width += width_of(g_utf8_get_char(word));
    return width;
}

static void indent(GString *out, int columns)
{
    for (int i = 0; i < columns; i++)
        g_string_append_c(out, ' ');
}

/* One word; where it is wider than a line it is broken. */
static void put_word(GString *out, const char **at, int *column, int hanging)
{
    for (; **at != '\0' && **at != ' '; *at = g_utf8_next_char(*at)) {
        gunichar letter = g_utf8_get_char(*at);
        if (*column + width_of(letter) > COLUMNS) {
            g_string_append_c(out, '\n');
            indent(out, hanging);
            *column = hanging;
        }
        g_string_append_unichar(out, letter);
        *column += width_of(letter);
    }
}

/* A paragraph: its first line starts at column first, the others at hanging. */
static void put(GString *out, int first, int hanging, const char *text)
{
    g_autofree char *line = digest_words_line(text);
    const char *at = line;
    int column = first;
    bool fresh = true;

    indent(out, first);
    for (;;) {
        at += strspn(at, " ");
        if (*at == '\0') break;
        int width = word_width(at);
        if (!fresh && column + 1 + width > COLUMNS) {
            g_string_append_c(out, '\n');
            indent(out, hanging);
            column = hanging;
            fresh = true;
        }
        if (!fresh) {
            g_string_append_c(out, ' ');
            column++;
        }
        put_word(out, &at, &column, hanging);
        fresh = false;
    }
    g_string_append_c(out, '\n');
}

static void put_heading(GString *out, const Pack *pack, const char *key)
{
    g_autofree char *heading = wording(pack, key, NULL);
    g_autofree char *upper = g_utf8_strup(heading, -1);

    g_string_append_c(out, '\n');
    put(out, 0, 0, upper);
}

static void put_call(GString *out, guint number, const DigestCall *call, const Pack *pack)
{
    g_autofree char *name = wording_name(call->name);
    g_autofree char *phone = call->phone != NULL ? wording_phone(call->phone) : NULL;
    g_autofree char *head = g_strdup_printf("%u. %s (%s)%s%s", number, name, call->client,
                                            phone != NULL ? ", " : "", phone != NULL ? phone : "");

    put(out, 2, 5, head);
    for (guint i = 0; i < call->reasons->len; i++) {
        g_autofree char *words = digest_words_matter(call->reasons->pdata[i], pack);
        put(out, 5, 7, words);
    }
    if (call->needs == NULL) return;
    g_autofree char *needs = wording(pack, "digest-needs", "value", call->needs, NULL);
    put(out, 5, 7, needs);
}

static void put_calls(GString *out, const Digest *digest, const Pack *pack)
{
    put_heading(out, pack, "digest-calls");
    if (digest->calls->len == 0) {
        g_autofree char *none = wording(pack, "digest-no-calls", NULL);
        put(out, 2, 2, none);
    }
    for (guint i = 0; i < digest->calls->len; i++)
        put_call(out, i + 1, g_ptr_array_index(digest->calls, i), pack);
}

static void put_client(GString *out, const DigestClient *client, const Pack *pack)
{
    g_autofree char *name = wording_name(client->name);
    g_autofree char *counts = digest_words_counts(client->counts, pack);
    g_autofree char *felt = digest_words_felt(client, pack);
    g_autoptr(GPtrArray) state = digest_words_state(client, pack);
    g_autofree char *head =
        g_strdup_printf("%s (%s)%s%s", name, client->client, client->stage != NULL ? ": " : "",
                        client->stage != NULL ? client->stage : "");

    put(out, 2, 4, head);
    put(out, 4, 6, counts);
    if (felt != NULL) put(out, 4, 6, felt);
    for (guint i = 0; i < state->len; i++)
        put(out, 4, 6, state->pdata[i]);
}

char *digest_text(const Digest *digest, const Pack *pack)
{
    GString *out = g_string_new(NULL);
    g_autofree char *heading = digest_words_heading(digest, pack);
    g_autoptr(GPtrArray) first = digest_words_first(digest, pack);
    g_autoptr(GPtrArray) clinic = digest_words_clinic(digest, pack);

    put(out, 0, 0, digest->clinic);
    put(out, 0, 0, heading);
    g_string_append_c(out, '\n');
    for (guint i = 0; i < first->len; i++)
        put(out, 0, 2, first->pdata[i]);
    put_calls(out, digest, pack);
    put_heading(out, pack, "digest-clinic");
    for (guint i = 0; i < clinic->len; i++)
        put(out, 2, 4, g_ptr_array_index(clinic, i));
    if (digest->clients->len > 0) put_heading(out, pack, "digest-clients");
    for (guint i = 0; i < digest->clients->len; i++)
        put_client(out, g_ptr_array_index(digest->clients, i), pack);
    return g_string_free(out, FALSE);
}
