/* SPDX-License-Identifier: Apache-2.0 */
/* Dictation writes punctuation as words: the pack's `spoken` words, one or two, become breaks. */
#include "core/talk/reading_inside.h"

static bool numeric(const Work *work, int i)
{
    if (i >= token_count(work)) return false;
    const Token *token = token_at(work, i);
    return token->digits ||
           (token->word != 0 && rules_entry(work->rules, token->word)->number >= 0);
}

void punctuation_hear(Work *work)
{
    const Rules *rules = work->rules;
    GArray *tokens = work->tokens;
    guint kept = 0;
    guint8 level = LEVEL_NONE;
    char joint = 0, before = 0;

    if (g_hash_table_size(rules->spoken) == 0 || tokens->len < 2) return;
    for (guint i = 0; i < tokens->len;) {
        Token *token = token_at(work, (int)i);
        guint32 one = token->word;
        if (one == 0 || !rules_entry(rules, (Symbol)one)->spoken) one = 0;
        guint32 two = one != 0 && i + 1 < tokens->len ? token_at(work, (int)i + 1)->word : 0;
        gpointer key = GUINT_TO_POINTER(one | (two << 16));
        gpointer mark = two != 0 ? g_hash_table_lookup(rules->spoken, key) : NULL;
        int used = 2;
        if (mark == NULL) {
            mark = one != 0 ? g_hash_table_lookup(rules->spoken, GUINT_TO_POINTER(one)) : NULL;
            used = 1;
        }
        char spoken = (char)GPOINTER_TO_INT(mark);
        bool within = kept > 0 && numeric(work, (int)kept - 1) && numeric(work, (int)i + used);
        bool stands = spoken == ',' ? within : spoken == '/' && !within; /* a decimal; no stroke */
        if (mark != NULL && kept > 0 && !stands) {
            before = (char)GPOINTER_TO_INT(mark);
            joint = strchr("/-", before) != NULL ? before : 0;
            level = MAX(level, strchr(".!?", before) != NULL ? LEVEL_SENTENCE
                               : before == ','               ? LEVEL_CLAUSE
                                                             : LEVEL_NONE);
            if (before == '?') {
                work->question = true;
                token_at(work, (int)kept - 1)->asked = true;
            }
            i += (guint)used;
            continue;
        }
        if (before != 0) {
            token->level = MAX(token->level, level);
            token->joint = joint;
            token->before = before;
        }
        if (kept < i) *token_at(work, (int)kept) = *token;
        kept++;
        level = LEVEL_NONE;
        joint = before = 0;
        i++;
    }
    g_array_set_size(tokens, kept);
}
