/* SPDX-License-Identifier: Apache-2.0 */
/* What a word that the pack does not have is meant to be: a letter that stands for a word, one with letters held down, one written as it is heard, one with a
 * letter or two wrong. */
#include <string.h>

#include "core/talk/reading_inside.h"

/* A token becomes the word that is meant, or the words that this stands for ("coudlnt"). The last of them. */
static int put_meant(Work *work, int i, const Spelling *meant, bool fuzzy)
{
    const guint32 *others = work->rules->others + meant->others;
    Token token = *token_at(work, i);

    token.word = meant->word;
    token.stem = meant->stem;
    token.fuzzy = fuzzy;
    for (guint32 k = 1; meant->others != 0 && k <= others[0]; k++) {
        token.word = (Symbol)(others[k] & G_MAXUINT16);
        token.stem = (Symbol)(others[k] >> 16);
        if (k == others[0]) break;
        g_array_insert_val(work->tokens, (guint)i, token);
        i++;
        token.level = LEVEL_NONE;
        token.before = token.joint = 0;
    }
    *token_at(work, i) = token;
    return i;
}

/* A word that is written as it is heard, or one that begins so. It says the word, a number too. */
static bool put_heard(const Work *work, Token *token, const char *word, bool stem)
{
    Symbol heard = rules_heard(work->rules, word, token->folded_length, stem);

    if (heard == 0) return false;
    token->heard = true;
    token->word = stem ? 0 : heard;
    token->stem = stem ? heard : rules_stem_for(work->rules, heard);
    return true;
}

/* Whether a token is a word that stands right beside the next one, no number. */
static bool worded(const Work *work, int i)
{
    const Token *token = token_at(work, i);

    return !token->digits &&
           (token->word == 0 || rules_entry(work->rules, token->word)->number < 0);
}

/* "nada d dolor": a letter between two words that stands for a word there, and no part of "d'un" or "4 d 10". One that stands for
 * several ("c bon") needs but the word behind it. The last of the tokens that it becomes. */
static int put_short(Work *work, int i)
{
    Token *token = token_at(work, i);
    char letter = work->folded->str[token->folded];

    if (i + 1 >= token_count(work) || !g_ascii_islower(letter)) return i;
    Symbol word = work->rules->between[letter - 'a'];
    const Token *before = i > 0 ? token_at(work, i - 1) : NULL, *next = token_at(work, i + 1);
    if (word == 0 || next->from == token->from || next->level != LEVEL_NONE || next->before != 0 ||
        !worded(work, i + 1) || (before != NULL && before->from == token->from))
        return i;
    const char *text = rules_entry(work->rules, word)->text;
    const Spelling *meant = rules_spelling(work->rules, text, (int)strlen(text));
    if (meant->others != 0) return put_meant(work, i, meant, false);
    if (before == NULL || token->level != LEVEL_NONE || token->before != 0 || !worded(work, i - 1))
        return i;
    token->word = word;
    token->stem = rules_stem_for(work->rules, word);
    return i;
}

/* "lecole": a small word and a known one. The last token, or -1. */
static int put_joined(Work *work, int i, const char *word)
{
    const Spelling *rest = NULL;
    Token token = *token_at(work, i);
    Symbol first = 0;
    int length = rules_joined(work->rules, word, token.folded_length, &first, &rest);

    if (length == 0) return -1;
    Token small = token;
    small.word = first;
    small.stem = rules_stem_of(work->rules, word, length);
    small.folded_length = (guint8)length;
    g_array_insert_val(work->tokens, (guint)i, small);
    Token *known = token_at(work, i + 1);
    known->level = LEVEL_NONE;
    known->before = known->joint = 0;
    known->folded += length;
    known->folded_length = (guint8)(token.folded_length - length);
    return put_meant(work, i + 1, rest, false);
}

/* "dolorcito": the word that it makes small. */
static bool put_plain(const Work *work, Token *token)
{
    const Spelling *plain =
        rules_diminutive(work->rules, work->folded->str + token->folded, token->folded_length);

    if (plain == NULL) return false;
    token->word = plain->word;
    if (plain->stem != 0) token->stem = plain->stem;
    return true;
}

/* A word that the pack does not have. The last of the tokens that it becomes. */
static int guess(Work *work, int i)
{
    Token *token = token_at(work, i);
    const char *word = work->folded->str + token->folded;
    const Spelling *meant;

    token->word = rules_held(work->rules, word, token->folded_length);
    if (token->word != 0) return i;
    int joined = put_joined(work, i, word);
    if (joined >= 0) return joined;
    if (put_plain(work, token)) return i;
    if (put_heard(work, token, word, false)) return i;
    meant = rules_near(work->rules, word, token->folded_length);
    if (meant != NULL) return put_meant(work, i, meant, true);
    put_heard(work, token, word, true);
    return i;
}

/* "tombbe": a word that the pack knows by its beginning alone is meant to be one that it has, where that begins and ends alike:
 * another ending makes it another form of the word. */
static void put_near(Work *work, int i)
{
    enum { ENDING = 2 };
    Token *token = token_at(work, i);
    const char *word = work->folded->str + token->folded;
    const Spelling *meant = rules_near(work->rules, word, token->folded_length);

    if (meant == NULL || meant->word == 0 || meant->stem == 0) return;
    const char *text = rules_entry(work->rules, meant->word)->text;
    if (!g_str_has_prefix(text, rules_entry(work->rules, token->stem)->text) ||
        memcmp(text + meant->length - ENDING, word + token->folded_length - ENDING, ENDING) != 0)
        return;
    token->word = meant->word;
    token->stem = meant->stem;
    token->fuzzy = true;
}

void tokens_guess(Work *work)
{
    for (int i = 0; i < token_count(work); i++) {
        Token *token = token_at(work, i);
        if (token->folded_length == 1) {
            i = put_short(work, i);
            token = token_at(work, i);
        }
        if (token->word != 0 || token->digits) continue;
        if (token->stem == 0)
            i = guess(work, i);
        else if (!put_plain(work, token))
            put_near(work, i);
    }
}
