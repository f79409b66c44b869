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
    bool apostrophe; /* in the word */
    int digit_count;
    double value;
    /* what stood between the last token and now */
    guint8 level;
    bool spaced;
    char before;  /* the last punctuation */
    int marks;    /* punctuation characters */
    bool fresh;   /* no token yet */
    bool single;  /* the open token is of one character */
    bool face;    /* and that a face that ends its sentence */
    int sentence; /* the token that began the sentence */
    int clause;   /* the same of the clause */
} Lexer;

static Token *push(Lexer *lexer, bool first)
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
    g_array_append_val(lexer->work->tokens, token);
    if (token.level == LEVEL_SENTENCE) lexer->sentence = (int)lexer->work->tokens->len - 1;
    if (token.level >= LEVEL_CLAUSE) lexer->clause = (int)lexer->work->tokens->len - 1;
    lexer->fresh = false;
    return token_at(lexer->work, (int)lexer->work->tokens->len - 1);
}

static void push_known(Lexer *lexer, const Spelling *spelling, const char *word, int length,
                       bool first)
{
    Token *token = push(lexer, first);
    GString *folded = lexer->work->folded;

    token->word = spelling != NULL ? spelling->word : 0;
    token->stem =
        spelling != NULL ? spelling->stem : rules_stem_of(lexer->work->rules, word, length);
    token->folded = (int)folded->len;
    token->folded_length = (guint8)length;
    if (folded->len + (gsize)length >= folded->allocated_len) {
        g_string_append_len(folded, word, length);
        return;
    }
    memcpy(folded->str + folded->len, word, (size_t)length);
    folded->len += (gsize)length;
}

static void push_others(Lexer *lexer, guint32 at, bool first)
{
    const guint32 *others = lexer->work->rules->others + at;

    for (guint32 i = 1; i <= others[0]; i++) {
        Token *token = push(lexer, first && i == 1);
        token->word = (Symbol)(others[i] & G_MAXUINT16);
        token->stem = (Symbol)(others[i] >> 16);
    }
}

/* One spelling, or the words that it stands for. */
static void push_spelling(Lexer *lexer, const char *word, int length, bool first)
{
    const Rules *rules = lexer->work->rules;
    const Spelling *spelling = rules_spelling(rules, word, length);

    if (spelling == NULL || spelling->others == 0) {
        push_known(lexer, spelling, word, length, first);
        return;
    }
    push_others(lexer, spelling->others, first);
}

/* The parts of a spelling between its apostrophes. */
static void push_parts(Lexer *lexer, const char *word)
{
    bool first = true;

    while (*word != '\0') {
        int length = (int)strcspn(word, "'");
        if (length > 0) push_spelling(lexer, word, length, first);
        first &= length == 0;
        word += length + (word[length] == '\'');
    }
}

/* A word of the pack with one of its endings: "coat's". */
static bool push_ended(Lexer *lexer)
{
    const Rules *rules = lexer->work->rules;

    for (guint i = 0; i < rules->n_endings; i++) {
        const Ending *ending = &rules->endings[i];
        int length = lexer->n - ending->length;
        if (length <= 0 || memcmp(lexer->word + length, ending->text, (size_t)ending->length) != 0)
            continue;
        const Spelling *rest = rules_spelling(rules, lexer->word, length);
        if (rest == NULL || rest->word == 0) continue;
        push_spelling(lexer, lexer->word, length, true);
        push_others(lexer, ending->others, false);
        return true;
    }
    return false;
}

/* A word with apostrophes: the pack may have other words for it, split it, or drop them. */
static void push_word(Lexer *lexer)
{
    const Rules *rules = lexer->work->rules;
    char plain[WORD_MAX + 16];
    int n = 0;

    if (lexer->apostrophe) {
        const Spelling *whole = rules_spelling(rules, lexer->word, lexer->n);
        bool stands = whole != NULL && whole->others != 0;
        if (!stands && push_ended(lexer)) return;
        if (!stands && rules->apostrophe_splits) {
            push_parts(lexer, lexer->word);
            return;
        }
        for (int i = 0; !stands && i < lexer->n; i++)
            if (lexer->word[i] != '\'') plain[n++] = lexer->word[i];
        if (!stands) {
            push_spelling(lexer, plain, n, true);
            return;
        }
    }
    push_spelling(lexer, lexer->word, lexer->n, true);
}

static void close_word(Lexer *lexer)
{
    if (lexer->from < 0) return;
    lexer->word[lexer->n] = '\0';
    while (!lexer->is_digits && lexer->n > 0 && lexer->word[lexer->n - 1] == '\'')
        lexer->word[--lexer->n] = '\0';
    if (lexer->is_digits)
        push_known(lexer, rules_spelling(lexer->work->rules, lexer->word, lexer->n), lexer->word,
                   lexer->n, true);
    else if (lexer->n > 0)
        push_word(lexer);
    lexer->from = -1;
    lexer->n = 0;
    lexer->apostrophe = false;
    lexer->level = lexer->face ? LEVEL_SENTENCE : LEVEL_NONE;
    lexer->face = false;
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

static void grow_apostrophe(Lexer *lexer)
{
    lexer->word[lexer->n++] = '\'';
    lexer->apostrophe = true;
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

    if (mark == '?' && count > 0 && count - lexer->clause <= 2 && answered(lexer)) {
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

/* "I slipped... a note under the door": points that trail off, and a small letter behind them: the sentence goes on. */
static bool trails_off(const Lexer *lexer)
{
    const char *p = lexer->p;
    int points = lexer->marks - 1;

    for (; p < lexer->end && *p == '.'; p++)
        points++;
    if ((guchar)*lexer->p >= 0x80) { /* the three as one character */
        p = g_utf8_next_char(lexer->p);
        points += 3;
    }
    while (p < lexer->end && *p == ' ')
        p++;
    return points >= 3 && p < lexer->end && g_ascii_islower(*p);
}

static void take_mark(Lexer *lexer, char mark)
{
    const char *next = g_utf8_next_char(lexer->p);
    bool number_goes_on = lexer->from >= 0 && lexer->is_digits && next < lexer->end &&
                          g_ascii_isdigit(*next) && strchr(".,:/-", mark) != NULL;

    close_word(lexer);
    lexer->before = mark;
    lexer->marks++;
    if (number_goes_on && lexer->marks == 1) return;
    bool goes_on = mark == '.' && trails_off(lexer);
    if (!goes_on && strchr(".!?", mark) != NULL)
        end_sentence(lexer, mark);
    else if (goes_on || strchr(",;()[]\"", mark) != NULL || (mark == '-' && lexer->spaced) ||
             (mark == ':' && (int)lexer->work->tokens->len - lexer->sentence > 3))
        lexer->level = MAX(lexer->level, LEVEL_CLAUSE);
}

/* A smile stands for the full stop, behind more than a word or two: "went to the beach yesterday :) done, 5", but not
 * "pain :( 6". */
static bool ends_by_face(const Lexer *lexer, const Fold *fold)
{
    enum { WORDS = 4, WORDS_RATED = 8, SMILES_END = 0x1F610 };
    enum { FACES = 0x1F600, FACES_END = 0x1F650, MORE = 0x1F910, MORE_END = 0x1F930 };
    enum { LAST = 0x1F970, LAST_END = 0x1F97B };
    gunichar c = g_utf8_get_char(fold->text);
    bool face =
        (c >= FACES && c < FACES_END) || (c >= MORE && c < MORE_END) || (c >= LAST && c < LAST_END);

    const char *next = g_utf8_next_char(lexer->p);
    while (next < lexer->end && *next == ' ')
        next++;
    bool rated = next < lexer->end && g_ascii_isdigit(*next);
    int least = rated ? WORDS_RATED : WORDS;
    face &= !rated || c < SMILES_END; /* "ended up flat on my belly in the flower bed 😂 5 and 0" */
    return face && (int)lexer->work->tokens->len - lexer->sentence >= least;
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
            grow_apostrophe(lexer);
        else if (lexer->from >= 0 && lexer->work->rules->decimal_comma &&
                 g_ascii_isdigit(*g_utf8_next_char(lexer->p)))
            take_mark(lexer, ','); /* "4'5", as commas stand high in Spain */
        break;
    case FOLD_PICTURE:
        close_word(lexer);
        grow(lexer, fold);
        lexer->single = true;
        lexer->face = ends_by_face(lexer, fold);
        break;
    case FOLD_MARK:
        if (fold->text[0] == '.' && point_inside(lexer)) break;
        take_mark(lexer, fold->text[0]);
        break;
    }
}

/* The letters of one word, most often: what the loop would do for each, at once. */
static void take_letters(Lexer *lexer)
{
    if (lexer->single || (lexer->from >= 0 && lexer->is_digits)) {
        close_word(lexer);
        lexer->single = false;
    }
    if (lexer->from < 0) lexer->from = (int)(lexer->p - lexer->work->text);
    for (; lexer->p < lexer->end && g_ascii_isalpha(*lexer->p); lexer->p++)
        if (lexer->n + 1 < WORD_MAX) lexer->word[lexer->n++] = (char)(*lexer->p | 0x20);
}

void tokens_make(Work *work)
{
    Lexer lexer = {
        .work = work, .p = work->text, .end = work->text + work->length, .from = -1, .fresh = true};
    Fold fold;

    while (lexer.p < lexer.end) {
        char c = *lexer.p;
        if (g_ascii_isalpha(c)) {
            take_letters(&lexer);
            continue;
        }
        if (c == ' ') {
            close_word(&lexer);
            lexer.single = false;
            lexer.spaced = true;
            lexer.p++;
            continue;
        }
        bool face = c == '<' || ((c == ':' || c == ';' || c == '=') && lexer.p > work->text);
        int skip = face ? emoticon(lexer.p, lexer.end) : 0;
        if (skip > 0) {
            close_word(&lexer);
            lexer.spaced = true;
            lexer.level = MAX(lexer.level, LEVEL_CLAUSE);
            lexer.p += skip + 1;
            continue;
        }
        fold_char(g_utf8_get_char(lexer.p), &fold);
        take(&lexer, &fold);
        lexer.p = g_utf8_next_char(lexer.p);
    }
    close_word(&lexer);
    punctuation_hear(work);
}
