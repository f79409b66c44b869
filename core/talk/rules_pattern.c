/* SPDX-License-Identifier: Apache-2.0 */
/* The text of a pattern to rows of elements. What is optional or free in its order is written out
 * here, so that matching knows nothing but rows. */
#include "core/talk/reading_fold.h"
#include "core/talk/rules_grammar.h"

enum { PIECES = 24, DEPTH = 6, GAP_MAX = 12 };

typedef struct {
    Symbol symbol;
    guint8 gap;
    bool far, over;
    bool optional;
} Piece;

typedef struct {
    Rules *rules;
    Symbol class;
    Faults *faults;
    const char *pointer;
    const char *text; /* of the whole pattern, for faults */
    int depth;
    Piece pieces[PIECES];
    int n;
    int turn; /* pieces before an either-order gap, or 0 */
    guint8 turn_gap;
    guint8 start, end;
    guint8 gap;
    bool far, over;
    bool failed;
} Parser;

static void compile(Parser *parser, const char *text, size_t length);

static void fail(Parser *parser, const char *why, const char *what)
{
    if (!parser->failed)
        fault_add(parser->faults, parser->pointer, parser->text, "%s: %s", why, what);
    parser->failed = true;
}

static void put(Parser *parser, Symbol symbol, bool optional)
{
    if (parser->n == PIECES) {
        fail(parser, "has too many parts", "write two patterns");
        return;
    }
    parser->pieces[parser->n++] = (Piece){symbol, parser->gap, parser->far, parser->over, optional};
    parser->gap = 0;
    parser->far = parser->over = false;
}

/* A written word may be several: "pain-free", "can't". */
static void put_word(Parser *parser, const char *folded, bool optional)
{
    char **others = rules_rewrite(parser->rules, folded);

    if (others != NULL) {
        for (; *others != NULL; others++)
            put(parser, rules_word(parser->rules, *others), optional);
        return;
    }
    if (strpbrk(folded, "-'") == NULL) {
        if (*folded != '\0') put(parser, rules_word(parser->rules, folded), optional);
        return;
    }
    g_autoptr(GString) word = g_string_new(NULL);
    for (const char *p = folded;; p++) {
        bool splits = *p == '-' || (*p == '\'' && parser->rules->apostrophe_splits);
        if ((splits || *p == '\0') && word->len > 0) {
            char **known = rules_rewrite(parser->rules, word->str);
            if (known != NULL && strcmp(word->str, folded) != 0)
                put_word(parser, word->str, optional);
            else
                put(parser, rules_word(parser->rules, word->str), optional);
            g_string_truncate(word, 0);
        } else if (*p != '\'' && *p != '\0' && !splits) {
            g_string_append_c(word, *p);
        }
        if (*p == '\0') break;
    }
}

/* (a|b c): a class without a name of its own, made once for the same text. */
static Symbol alternatives(Parser *parser, const char *text, size_t length)
{
    g_autofree char *name = g_strndup(text, length);

    if (g_hash_table_contains(parser->rules->classes, name))
        return rules_class(parser->rules, name);
    Symbol class = rules_class(parser->rules, name);
    Parser inner = {.rules = parser->rules,
                    .class = class,
                    .faults = parser->faults,
                    .pointer = parser->pointer,
                    .text = parser->text,
                    .depth = parser->depth + 1};
    if (inner.depth > DEPTH)
        fail(parser, "is nested too deeply", name);
    else
        compile(&inner, text + 1, length - 2);
    parser->failed |= inner.failed;
    return class;
}

static void put_class(Parser *parser, const char *text, size_t length, bool optional)
{
    g_autofree char *name = g_strndup(text + 1, length - 2);

    if (!g_hash_table_contains(parser->rules->classes, name))
        fail(parser, "names a class that the pack lacks", name);
    else
        put(parser, rules_class(parser->rules, name), optional);
}

static guint8 gap_size(Parser *parser, const char *text)
{
    guint64 size = 0;

    if (!g_ascii_string_to_unsigned(text, 10, 1, GAP_MAX, &size, NULL))
        fail(parser, "has a gap that is not of 1 to 12 words", text);
    return (guint8)size;
}

static void put_piece(Parser *parser, const char *text, size_t length)
{
    bool optional = length > 1 && text[length - 1] == '?';
    g_autofree char *piece = g_strndup(text, optional ? length - 1 : length);
    size_t size = strlen(piece);

    if (strcmp(piece, "<") == 0 || strcmp(piece, "<<") == 0) {
        parser->start = size == 1 ? EDGE_CLAUSE : EDGE_TEXT;
    } else if (strcmp(piece, ">") == 0 || strcmp(piece, ">>") == 0) {
        parser->end = size == 1 ? EDGE_CLAUSE : EDGE_TEXT;
    } else if (g_str_has_prefix(piece, "~~")) {
        if (parser->turn != 0 || parser->n == 0)
            fail(parser, "has an either-order gap without two sides", piece);
        parser->turn = parser->n;
        parser->turn_gap = gap_size(parser, piece + 2);
    } else if (piece[0] == '~') {
        parser->over = piece[1] == ';';
        parser->far = piece[1] == ',' || parser->over;
        parser->gap = gap_size(parser, piece + (parser->far ? 2 : 1));
    } else if (piece[0] == '{' && piece[size - 1] == '}') {
        put_class(parser, piece, size, optional);
    } else if (piece[0] == '(' && piece[size - 1] == ')') {
        put(parser, alternatives(parser, piece, size), optional);
    } else if (strcmp(piece, "#") == 0) {
        put(parser, parser->rules->number, optional);
    } else if (strcmp(piece, "####") == 0) {
        put(parser, parser->rules->year, optional);
    } else if (strpbrk(piece, "{}()<>") != NULL) {
        fail(parser, "has a bracket out of place", piece);
    } else {
        g_autofree char *folded = fold_word(piece);
        if (folded[0] != '\0' && folded[strlen(folded) - 1] == '*') {
            folded[strlen(folded) - 1] = '\0';
            if (strlen(folded) < 3)
                fail(parser, "has a stem of fewer than 3 letters", piece);
            else if (strlen(folded) > STEM_BYTES_MOST)
                fail(parser, "has a stem longer than any word", piece);
            else
                put(parser, rules_stem(parser->rules, folded), optional);
        } else {
            put_word(parser, folded, optional);
        }
    }
}

static void emit(Parser *parser, const Element *elements, int n)
{
    Pattern pattern = {
        .class = parser->class, .n = (guint8)n, .start = parser->start, .end = parser->end};
    int gaps = 0, reach = n;

    if (n == 0 || n > PATTERN_ELEMENTS) {
        fail(parser, n == 0 ? "is empty" : "is too long", "a pattern has 1 to 12 words or classes");
        return;
    }
    memcpy(pattern.elements, elements, sizeof(Element) * (size_t)n);
    pattern.elements[0].gap = 0;
    for (int i = 1; i < n; i++) {
        gaps += elements[i].gap > 0;
        reach += elements[i].gap;
    }
    if (gaps > PATTERN_GAPS || reach > PATTERN_REACH)
        fail(parser, "has too many gaps", "4 at most");
    g_array_append_val(parser->rules->written, pattern);
}

/* Writes out what is optional, from piece i on. */
static void expand(Parser *parser, const Piece *pieces, int n, int i, Element *elements, int m)
{
    if (parser->failed) return;
    if (i == n) {
        emit(parser, elements, m);
        return;
    }
    if (pieces[i].optional) expand(parser, pieces, n, i + 1, elements, m);
    if (m < PIECES) {
        elements[m] = (Element){pieces[i].symbol, pieces[i].gap, pieces[i].far, pieces[i].over};
        expand(parser, pieces, n, i + 1, elements, m + 1);
    }
}

static void finish(Parser *parser)
{
    Element elements[PIECES + 1];
    Piece turned[PIECES];
    int optional = 0;

    for (int i = 0; i < parser->n; i++)
        optional += parser->pieces[i].optional;
    if (optional > 5) fail(parser, "has too many optional parts", "5 at most");
    if (parser->turn == parser->n && parser->turn != 0)
        fail(parser, "has an either-order gap without two sides", "~~");
    if (parser->failed) return;
    if (parser->turn == 0) {
        expand(parser, parser->pieces, parser->n, 0, elements, 0);
        return;
    }
    int left = parser->turn, right = parser->n - parser->turn;
    parser->pieces[left].gap = parser->turn_gap;
    parser->pieces[left].far = true;
    expand(parser, parser->pieces, parser->n, 0, elements, 0);
    memcpy(turned, parser->pieces + left, sizeof(Piece) * (size_t)right);
    memcpy(turned + right, parser->pieces, sizeof(Piece) * (size_t)left);
    turned[0].gap = 0;
    turned[right].gap = parser->turn_gap;
    turned[right].far = true;
    expand(parser, turned, parser->n, 0, elements, 0);
}

static void compile_one(Parser *parser, const char *text, size_t length);

/* (a|b|>): the words, or the end of the clause; two patterns. False where the text has no such
 * part. */
static bool compile_or_end(Parser *parser, const char *text, size_t length)
{
    const char *bar = memchr(text, '|', length), *edge_at = memchr(text, '>', length);

    if (bar == NULL || edge_at == NULL) return false;
    g_autofree char *whole = g_strndup(text, length);
    char *end = strstr(whole, "|>)");
    char *open = end;

    if (end == NULL) return false;
    for (int depth = 1; open > whole && depth > 0;) {
        open--;
        depth += *open == ')' ? 1 : *open == '(' ? -1 : 0;
    }
    g_autofree char *words = g_strdup_printf("%.*s%s", (int)(end - whole), whole, end + 2);
    g_autofree char *edge = g_strdup_printf("%.*s>", (int)(open - whole), whole);
    compile_one(parser, words, strlen(words));
    compile_one(parser, edge, strlen(edge));
    return true;
}

static void compile_one(Parser *parser, const char *text, size_t length)
{
    size_t from = 0;
    int depth = 0;

    if (compile_or_end(parser, text, length)) return;
    parser->n = parser->turn = parser->gap = 0;
    parser->start = parser->end = EDGE_NONE;
    for (size_t i = 0; i <= length; i++) {
        if (i < length && text[i] == '(')
            depth++;
        else if (i < length && text[i] == ')')
            depth--;
        if ((i == length || (text[i] == ' ' && depth == 0))) {
            if (i > from) put_piece(parser, text + from, i - from);
            from = i + 1;
        }
    }
    if (depth != 0) fail(parser, "has an unclosed bracket", "( and ) come in pairs");
    finish(parser);
}

/* Alternatives at the top are patterns of their own: "calf | calves". */
static void compile(Parser *parser, const char *text, size_t length)
{
    size_t from = 0;
    int depth = 0;

    for (size_t i = 0; i <= length; i++) {
        if (i < length && text[i] == '(')
            depth++;
        else if (i < length && text[i] == ')')
            depth--;
        if (i == length || (text[i] == '|' && depth == 0)) {
            compile_one(parser, text + from, i - from);
            from = i + 1;
        }
    }
}

void rules_add_pattern(Rules *rules, Symbol class, const char *text, Faults *faults,
                       const char *pointer)
{
    Parser parser = {
        .rules = rules, .class = class, .faults = faults, .pointer = pointer, .text = text};

    if (strlen(text) > 2000)
        fail(&parser, "is too long", "2000 bytes at most");
    else
        compile(&parser, text, strlen(text));
}
