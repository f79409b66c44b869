/* SPDX-License-Identifier: Apache-2.0 */
/* What a word that the pack does not have is meant to be: one with letters held down, one written as it is heard, one with a
 * letter or two wrong. */
#include <string.h>

#include "core/talk/reading_inside.h"

/* A misspelling becomes the word that is meant, or the words that this stands for ("coudlnt"). The last of them. */
static int put_meant(Work *work, int i, const Spelling *meant)
{
    const guint32 *others = work->rules->others + meant->others;
    Token token = *token_at(work, i);

    token.word = meant->word;
    token.stem = meant->stem;
    token.fuzzy = true;
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
    const Entry *entry = rules_entry(work->rules, heard);
    token->word = stem ? 0 : heard;
    token->stem = stem ? heard : rules_stem_of(work->rules, entry->text, (int)strlen(entry->text));
    return true;
}

void tokens_guess(Work *work)
{
    for (int i = 0; i < token_count(work); i++) {
        Token *token = token_at(work, i);
        if (token->word != 0 || token->stem != 0 || token->digits) continue;
        const char *word = work->folded->str + token->folded;
        token->word = rules_held(work->rules, word, token->folded_length);
        if (token->word != 0 || put_heard(work, token, word, false)) continue;
        const Spelling *meant = rules_near(work->rules, word, token->folded_length);
        if (meant != NULL)
            i = put_meant(work, i, meant);
        else
            put_heard(work, token, word, true);
    }
}
