/* SPDX-License-Identifier: Apache-2.0 */
/* From characters to tokens: a word, a run of digits or a picture each, with the breaks and
 * punctuation between them. */
#include "core/talk/reading_fold.h"
#include "core/talk/reading_inside.h"

enum { WORD_MAX = 60, DIGITS_MAX = 9 };

typedef struct {
    Work *work;
    const char *p, *end;
    char word[WORD_MAX + 16]; /* the folded word that is being read */
    int n;
    int from; /* where it began in the text, -1 where none is open */
    bool is_digits;
    int digit_count;
    double value;
    /* what stood between the last token and now */
    guint8 level;
    bool spaced;
    char before;  /* the last punctuation */
    int marks;    /* punctuation characters */
    bool fresh;   /* no token yet */
    bool single;  /* the open token is of one character */
    int sentence; /* the token that began the sentence */
} Lexer;

Token *token_at(const Work *work, int i)
{
    return &g_array_index(work->tokens, Token, i);
}

int token_count(const Work *work)
{
    return (int)work->tokens->len;
}

static Symbol find_stem(const Rules *rules, const char *word, int length)
{
    char stem[WORD_MAX + 16];

    if (rules->stem_max == 0) return 0;
    for (int n = MIN(length, rules->stem_max); n >= rules->stem_min; n--) {
        memcpy(stem, word, (size_t)n);
        stem[n] = '\0';
        gpointer found = g_hash_table_lookup(rules->stems, stem);
        if (found != NULL) return (Symbol)GPOINTER_TO_UINT(found);
    }
    return 0;
}

static void look_up(const Rules *rules, const char *word, Token *token)
{
    int length = (int)strlen(word);

    token->word = rules_find(rules, word);
    token->stem = find_stem(rules, word, length);
    if (token->word != 0 || token->stem != 0 || token->digits) return;
    token->word = rules_find_misspelt(rules, word);
    token->fuzzy = token->word != 0;
}

static void push(Lexer *lexer, const char *word, bool first)
{
    Token token = {.level = lexer->level,
                   .before = lexer->before,
                   .spaced = lexer->spaced,
                   .digits = lexer->is_digits,
                   .digit_count = lexer->digit_count,
                   .value = lexer->value,
                   .from = lexer->from,
                   .to = (int)(lexer->p - lexer->work->text)};

    if (!first) {
        token.level = LEVEL_NONE;
        token.before = 0;
    } else if (!lexer->spaced && lexer->marks == 1 && !lexer->fresh) {
        token.joint = lexer->before;
    }
    token.minus = token.digits && lexer->before == '-' && lexer->fresh;
    look_up(lexer->work->rules, word, &token);
    g_array_append_val(lexer->work->tokens, token);
    if (token.level == LEVEL_SENTENCE) lexer->sentence = (int)lexer->work->tokens->len - 1;
    lexer->fresh = false;
}

/* One spelling with its apostrophes: the pack may split it, drop them, or have other words for it.
 */
static void push_word(Lexer *lexer)
{
    const Rules *rules = lexer->work->rules;
    char plain[WORD_MAX + 16];
    int n = 0;
    char **others = rules_rewrite(rules, lexer->word);

    for (int i = 0; lexer->word[i] != '\0'; i++)
        if (lexer->word[i] != '\'') plain[n++] = lexer->word[i];
    plain[n] = '\0';
    if (others == NULL && (!rules->apostrophe_splits || strchr(lexer->word, '\'') == NULL))
        others = rules_rewrite(rules, plain);
    if (others != NULL) {
        for (int i = 0; others[i] != NULL; i++)
            push(lexer, others[i], i == 0);
    } else if (rules->apostrophe_splits && strchr(lexer->word, '\'') != NULL) {
        g_auto(GStrv) parts = g_strsplit(lexer->word, "'", -1);
        bool first = true;
        for (char **part = parts; *part != NULL; part++) {
            char **known = **part == '\0' ? NULL : rules_rewrite(rules, *part);
            for (; known != NULL && *known != NULL; known++, first = false)
                push(lexer, *known, first);
            if (**part == '\0' || rules_rewrite(rules, *part) != NULL) continue;
            push(lexer, *part, first);
            first = false;
        }
    } else if (n > 0) {
        push(lexer, plain, true);
    }
}

static void close_word(Lexer *lexer)
{
    if (lexer->from < 0) return;
    lexer->word[lexer->n] = '\0';
    while (!lexer->is_digits && lexer->n > 0 && lexer->word[lexer->n - 1] == '\'')
        lexer->word[--lexer->n] = '\0';
    if (lexer->is_digits)
        push(lexer, lexer->word, true);
    else if (lexer->n > 0)
        push_word(lexer);
    lexer->from = -1;
    lexer->n = 0;
    lexer->level = LEVEL_NONE;
    lexer->spaced = false;
    lexer->before = 0;
    lexer->marks = 0;
    lexer->value = 0;
    lexer->digit_count = 0;
    lexer->is_digits = false;
}

static void grow(Lexer *lexer, const Fold *fold)
{
    if (lexer->from < 0) lexer->from = (int)(lexer->p - lexer->work->text);
    if (lexer->n + fold->length < WORD_MAX) {
        memcpy(lexer->word + lexer->n, fold->text, (size_t)fold->length);
        lexer->n += fold->length;
    }
}

static void take_digit(Lexer *lexer, const Fold *fold)
{
    bool keycap = lexer->p + 1 < lexer->end && (guchar)lexer->p[1] >= 0x80 &&
                  (g_str_has_prefix(lexer->p + 1, "\xEF\xB8\x8F\xE2\x83\xA3") ||
                   g_str_has_prefix(lexer->p + 1, "\xE2\x83\xA3"));

    if (lexer->from >= 0 && (!lexer->is_digits || keycap)) close_word(lexer);
    grow(lexer, fold);
    lexer->is_digits = true;
    lexer->digit_count++;
    if (lexer->digit_count <= DIGITS_MAX)
        lexer->value = fold->value == 10 ? 10 : lexer->value * 10 + fold->value;
    else
        lexer->value = 1e9;
}

/* "Pain? None": an answer follows on the same line, so that one or two words with a question mark
 * are its heading. */
static bool answered(const Lexer *lexer)
{
    const char *p = lexer->p + 1;

    while (p < lexer->end && (*p == ' ' || *p == '\t'))
        p++;
    return p < lexer->end && (g_ascii_isalnum(*p) || (guchar)*p >= 0x80);
}

static void end_sentence(Lexer *lexer, char mark)
{
    int count = (int)lexer->work->tokens->len;

    if (mark == '?' && count > 0 && count - lexer->sentence <= 2 && answered(lexer)) {
        lexer->level = MAX(lexer->level, LEVEL_CLAUSE);
        return;
    }
    if (mark == '?') {
        lexer->work->question = true;
        for (int i = count - 1; i >= lexer->sentence && count - i < 60; i--)
            token_at(lexer->work, i)->asked = true;
    }
    lexer->level = LEVEL_SENTENCE;
}

/* ":-)", ";D", "<3": the letter or digit in it says nothing. The bytes to skip behind the first, or
 * 0. */
static int emoticon(const char *p, const char *end)
{
    const char *q = p + 1;

    if (*p == '<') return q < end && *q == '3' ? 1 : 0;
    if (strchr(":;=", *p) == NULL) return 0;
    if (q < end && *q == '-') q++;
    if (q >= end || strchr("DPpOo)(|/*3xX", *q) == NULL || *q == '\0') return 0;
    if (g_ascii_isalnum(*q) && p[-1] != ' ') return 0;
    return q + 1 >= end || !g_ascii_isalnum(q[1]) ? (int)(q - p) : 0;
}

/* "a.m.", "p.m.": a point between single letters belongs to the word. */
static bool point_inside(const Lexer *lexer)
{
    const char *p = lexer->p;

    if (lexer->from < 0 || lexer->is_digits || p + 1 >= lexer->end || !g_ascii_isalpha(p[1]))
        return false;
    return lexer->n == 1 && (p + 2 >= lexer->end || !g_ascii_isalpha(p[2]));
}

static void take_mark(Lexer *lexer, char mark)
{
    const char *next = lexer->p + 1;
    bool number_goes_on = lexer->from >= 0 && lexer->is_digits && next < lexer->end &&
                          g_ascii_isdigit(*next) && strchr(".,:/-", mark) != NULL;

    close_word(lexer);
    lexer->before = mark;
    lexer->marks++;
    if (number_goes_on && lexer->marks == 1) return;
    if (strchr(".!?", mark) != NULL)
        end_sentence(lexer, mark);
    else if (strchr(",;()[]\"", mark) != NULL || (mark == '-' && lexer->spaced) ||
             (mark == ':' && (int)lexer->work->tokens->len - lexer->sentence > 3))
        lexer->level = MAX(lexer->level, LEVEL_CLAUSE);
}

static void take(Lexer *lexer, const Fold *fold)
{
    if (lexer->single && fold->kind != FOLD_NOTHING) {
        close_word(lexer);
        lexer->single = false;
    }
    switch (fold->kind) {
    case FOLD_NOTHING: break;
    case FOLD_SPACE:
        close_word(lexer);
        lexer->spaced = true;
        break;
    case FOLD_LINE:
        close_word(lexer);
        lexer->spaced = true;
        if (!lexer->fresh) end_sentence(lexer, '\n');
        break;
    case FOLD_LETTER:
        if (lexer->from >= 0 && lexer->is_digits) close_word(lexer);
        grow(lexer, fold);
        break;
    case FOLD_DIGIT: take_digit(lexer, fold); break;
    case FOLD_FRACTION:
        close_word(lexer);
        lexer->from = (int)(lexer->p - lexer->work->text);
        lexer->is_digits = true;
        lexer->value = fold->value;
        lexer->single = true;
        break;
    case FOLD_APOSTROPHE:
        if (lexer->from >= 0 && !lexer->is_digits && lexer->n + 1 < WORD_MAX)
            lexer->word[lexer->n++] = '\'';
        break;
    case FOLD_PICTURE:
        close_word(lexer);
        grow(lexer, fold);
        lexer->single = true;
        break;
    case FOLD_MARK:
        if (fold->text[0] == '.' && point_inside(lexer)) break;
        take_mark(lexer, fold->text[0]);
        break;
    }
}

static bool numeric(const Work *work, int i)
{
    if (i >= token_count(work)) return false;
    const Token *token = token_at(work, i);
    return token->digits ||
           (token->word != 0 && rules_entry(work->rules, token->word)->number >= 0);
}

/* Dictation writes punctuation as words: the pack's `spoken` words, one or two, become breaks. */
static void hear_punctuation(Work *work)
{
    const Rules *rules = work->rules;
    GArray *tokens = work->tokens;
    guint kept = 0;
    guint8 level = LEVEL_NONE;
    char joint = 0, before = 0;

    if (g_hash_table_size(rules->spoken) == 0 || tokens->len < 2) return;
    for (guint i = 0; i < tokens->len;) {
        Token *token = token_at(work, (int)i);
        guint32 one = token->word, two = i + 1 < tokens->len ? token_at(work, (int)i + 1)->word : 0;
        gpointer key = GUINT_TO_POINTER(one | (two << 16));
        gpointer mark = two != 0 ? g_hash_table_lookup(rules->spoken, key) : NULL;
        int used = 2;
        if (mark == NULL) {
            mark = one != 0 ? g_hash_table_lookup(rules->spoken, GUINT_TO_POINTER(one)) : NULL;
            used = 1;
        }
        char spoken = (char)GPOINTER_TO_INT(mark);
        bool decimal = spoken == ',' && kept > 0 && numeric(work, (int)kept - 1) &&
                       numeric(work, (int)i + used);
        if (mark != NULL && kept > 0 && !decimal) {
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
        Token copy = *token;
        if (before != 0) {
            copy.level = MAX(copy.level, level);
            copy.joint = joint;
            copy.before = before;
        }
        level = LEVEL_NONE;
        joint = before = 0;
        *token_at(work, (int)kept++) = copy;
        i++;
    }
    g_array_set_size(tokens, kept);
}

void tokens_make(Work *work)
{
    Lexer lexer = {
        .work = work, .p = work->text, .end = work->text + work->length, .from = -1, .fresh = true};
    Fold fold;

    while (lexer.p < lexer.end) {
        const char *next = g_utf8_next_char(lexer.p);
        int skip = (*lexer.p == '<' || lexer.p > work->text) ? emoticon(lexer.p, lexer.end) : 0;
        if (skip > 0) {
            close_word(&lexer);
            lexer.spaced = true;
            lexer.level = MAX(lexer.level, LEVEL_CLAUSE);
            lexer.p += skip + 1;
            continue;
        }
        fold_char(g_utf8_get_char(lexer.p), &fold);
        take(&lexer, &fold);
        lexer.p = next;
    }
    close_word(&lexer);
    hear_punctuation(work);
}
