/* SPDX-License-Identifier: Apache-2.0 */
#include "core/talk/letter.h"

#include <glib.h>
#include <string.h>

/* A text with more words than this says more than a letter, unless the letter is named. */
#define FEW_WORDS 4
#define TEXT_MOST 4096

/* One word of the text: where it stands, and its letter where it is one of A to E. */
typedef struct {
    const char *at;
    const char *end;
    char letter;
    bool names; /* one of the words that name the letter */
    bool used;
} Token;

static bool is_name(const char *words, const Token *token)
{
    g_autofree char *folded = g_utf8_casefold(token->at, token->end - token->at);
    g_auto(GStrv) names = g_strsplit(words, " ", -1);

    for (int i = 0; names[i] != NULL; i++) {
        g_autofree char *name = g_utf8_casefold(names[i], -1);
        if (*name != '\0' && strcmp(name, folded) == 0) return true;
    }
    return false;
}

static char letter_of(const Token *token)
{
    char upper = g_ascii_toupper(*token->at);

    return token->end - token->at == 1 && upper >= 'A' && upper <= 'E' ? upper : 0;
}

static GArray *tokens_of(const char *words, const char *text)
{
    GArray *tokens = g_array_new(FALSE, FALSE, sizeof(Token));

    for (const char *p = text; *p != '\0';) {
        Token token = {.at = p, .end = p};
        while (*token.end != '\0' && g_unichar_isalnum(g_utf8_get_char(token.end)))
            token.end = g_utf8_next_char(token.end);
        if (token.end == p) {
            p = g_utf8_next_char(p);
            continue;
        }
        token.letter = letter_of(&token);
        token.names = is_name(words, &token);
        g_array_append_val(tokens, token);
        p = token.end;
    }
    return tokens;
}

static void take(Letter *letter, LetterForm form, Token *token)
{
    token->used = true;
    if (letter->form == LETTER_NONE || letter->letter == token->letter) {
        letter->form = form;
        letter->letter = token->letter;
    } else if (letter->letter != 'E') {
        letter->letter = token->letter == 'E' ? 'E' : 0;
        letter->form = token->letter == 'E' ? form : LETTER_UNSURE;
    }
}

/* The letters that follow a word which names them, "letter C", "letters C and E". */
static void take_named(Letter *letter, GArray *tokens)
{
    bool after = false;

    for (guint i = 0; i < tokens->len; i++) {
        Token *token = &g_array_index(tokens, Token, i);
        bool next = i > 0 && g_array_index(tokens, Token, i - 1).names;
        if (token->names) {
            token->used = after = true;
        } else if (after && token->letter != 0 && (next || token->letter != 'A')) {
            take(letter, LETTER_NAMED, token);
        }
    }
}

static void take_bare(Letter *letter, GArray *tokens)
{
    guint letters = 0;

    for (guint i = 0; i < tokens->len; i++)
        letters += g_array_index(tokens, Token, i).letter != 0;
    bool alone = letters > 0 && letters == tokens->len;
    if (!alone && tokens->len > FEW_WORDS) return;
    for (guint i = 0; i < tokens->len; i++) {
        Token *token = &g_array_index(tokens, Token, i);
        bool apart = token->letter != 0 && token->letter != 'A' && token->letter != 'D';
        if (alone || apart) take(letter, alone ? LETTER_ALONE : LETTER_AMONG, token);
    }
}

/* The text without the words used. */
static char *rest_of(const char *text, const GArray *tokens)
{
    GString *rest = g_string_new(NULL);
    const char *from = text;

    for (guint i = 0; i < tokens->len; i++) {
        const Token *token = &g_array_index(tokens, Token, i);
        if (!token->used) continue;
        g_string_append_len(rest, from, token->at - from);
        from = token->end;
    }
    g_string_append(rest, from);
    return g_strstrip(g_string_free(rest, FALSE));
}

/* Does it hold anything but marks? */
static bool has_words(const char *text)
{
    for (const char *p = text; *p != '\0'; p = g_utf8_next_char(p))
        if (g_unichar_isalnum(g_utf8_get_char(p))) return true;
    return false;
}

Letter letter_read(const char *words, const char *text)
{
    Letter letter = {.form = LETTER_NONE};

    if (strlen(text) > TEXT_MOST || !g_utf8_validate(text, -1, NULL)) {
        letter.rest = g_strdup(text);
        return letter;
    }
    g_autoptr(GArray) tokens = tokens_of(words, text);
    take_named(&letter, tokens);
    if (letter.form == LETTER_NONE) take_bare(&letter, tokens);
    letter.rest = letter.form != LETTER_NONE ? rest_of(text, tokens) : g_strdup(text);
    if (letter.form != LETTER_NONE && !has_words(letter.rest)) letter.rest[0] = '\0';
    return letter;
}

void letter_clear(Letter *letter)
{
    g_clear_pointer(&letter->rest, g_free);
    *letter = (Letter){.form = LETTER_NONE};
}
