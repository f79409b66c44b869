/* SPDX-License-Identifier: Apache-2.0 */
/* The text of a pattern to rows of elements. What is optional or free in its order is written out
 * here, so that matching knows nothing but rows. */
#include <string.h>

#include "core/talk/reading_fold.h"
#include "core/talk/rules_grammar.h"

enum { PIECES = 24, DEPTH = 6, GAP_MAX = 12 };

static const char OR_END[] = "|>)";

typedef struct {
    Symbol symbol;
    guint8 gap;
    bool far, over;
    bool optional;
} Piece;

typedef struct {
    Rules *rules;
    Symbol class;
    const TextPlace *place;
    const char *text; /* of the whole pattern, for faults */
    int depth;
    bool ends; /* it has OR_END in it */
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

static void fail(Parser *parser, const char *why, const char *what, size_t length)
{
    const TextPlace *place = parser->place;

    if (!parser->failed) {
        g_autofree char *pointer = place->item < 0
                                       ? g_strdup(place->pointer)
                                       : fault_pointer_item(place->pointer, (size_t)place->item);
        fault_add(place->faults, pointer, parser->text, "%s: %.*s", why, (int)length, what);
    }
    parser->failed = true;
}

static void fail_plainly(Parser *parser, const char *why, const char *what)
{
    fail(parser, why, what, strlen(what));
}

static void put(Parser *parser, Symbol symbol, bool optional)
{
    if (parser->n == PIECES) {
        fail_plainly(parser, "has too many parts", "write two patterns");
        return;
    }
    parser->pieces[parser->n++] = (Piece){symbol, parser->gap, parser->far, parser->over, optional};
    parser->gap = 0;
    parser->far = parser->over = false;
}

static void put_word(Parser *parser, const char *folded, size_t length, bool optional);

/* "pain-free", "can't": the parts of a word. */
static void put_parts(Parser *parser, const char *folded, size_t length, bool optional)
{
    Rules *rules = parser->rules;
    g_autofree char *word = g_malloc(length + 1);
    size_t n = 0;

    for (size_t i = 0; i <= length; i++) {
        bool ends = i == length;
        bool splits =
            !ends && (folded[i] == '-' || (folded[i] == '\'' && rules->apostrophe_splits));
        if ((splits || ends) && n > 0) {
            if (rules_rewrite(rules, word, n) != NULL)
                put_word(parser, word, n, optional);
            else
                put(parser, rules_word(rules, word, n), optional);
            n = 0;
        } else if (!splits && !ends && folded[i] != '\'') {
            word[n++] = folded[i];
        }
    }
}

/* A written word may be several. */
static void put_word(Parser *parser, const char *folded, size_t length, bool optional)
{
    Rules *rules = parser->rules;
    char **others = rules_rewrite(rules, folded, length);

    if (others != NULL) {
        for (; *others != NULL; others++)
            put(parser, rules_word(rules, *others, strlen(*others)), optional);
    } else if (memchr(folded, '-', length) != NULL || memchr(folded, '\'', length) != NULL) {
        put_parts(parser, folded, length, optional);
    } else if (length > 0) {
        put(parser, rules_word(rules, folded, length), optional);
    }
}

/* A stem, or a word. */
static void put_folded(Parser *parser, const char *folded, size_t length, bool optional)
{
    size_t letters = length > 0 && folded[length - 1] == '*' ? length - 1 : length;

    if (letters == length)
        put_word(parser, folded, length, optional);
    else if (letters < 3)
        fail(parser, "has a stem of fewer than 3 letters", folded, length);
    else if (letters > STEM_BYTES_MOST)
        fail(parser, "has a stem longer than any word", folded, length);
    else
        put(parser, rules_stem(parser->rules, folded, letters), optional);
}

/* Whether folding would leave it as it is. */
static bool is_folded(const char *text, size_t length)
{
    for (size_t i = 0; i < length; i++) {
        char c = text[i];
        if (c >= 'a' && c <= 'z') continue;
        if (!g_ascii_isdigit(c) && c != '*' && c != '-' && c != '\'') return false;
    }
    return true;
}

static void put_unfolded(Parser *parser, const char *text, size_t length, bool optional)
{
    g_autofree char *word = g_strndup(text, length);
    g_autofree char *folded = fold_word(word);

    put_folded(parser, folded, strlen(folded), optional);
}

/* (a|b c): a class without a name of its own, made once for the same text. */
static Symbol alternatives(Parser *parser, const char *text, size_t length)
{
    Rules *rules = parser->rules;
    guint before = rules->entries->len;
    Parser inner = {.rules = rules,
                    .class = rules_class(rules, text, length),
                    .place = parser->place,
                    .text = parser->text,
                    .depth = parser->depth + 1,
                    .ends = parser->ends};

    if (rules->entries->len == before) return inner.class;
    if (inner.depth > DEPTH)
        fail(parser, "is nested too deeply", text, length);
    else
        compile(&inner, text + 1, length - 2);
    parser->failed |= inner.failed;
    return inner.class;
}

static void put_class(Parser *parser, const char *name, size_t length, bool optional)
{
    Symbol class = (Symbol)names_get(&parser->rules->draft->classes, name, length);

    if (class == 0)
        fail(parser, "names a class that the pack lacks", name, length);
    else
        put(parser, class, optional);
}

/* The words of a gap: 1 to 12. */
static guint8 gap_size(Parser *parser, const char *text, size_t length)
{
    guint size = 0;
    bool digits = length > 0;

    for (size_t i = 0; i < length; i++) {
        digits &= g_ascii_isdigit(text[i]);
        size = MIN(size * 10 + (guint)(text[i] - '0'), GAP_MAX + 1);
    }
    if (digits && size >= 1 && size <= GAP_MAX) return (guint8)size;
    fail(parser, "has a gap that is not of 1 to 12 words", text, length);
    return 0;
}

static void put_gap(Parser *parser, const char *text, size_t length)
{
    if (length > 1 && text[1] == '~') {
        if (parser->turn != 0 || parser->n == 0)
            fail(parser, "has an either-order gap without two sides", text, length);
        parser->turn = parser->n;
        parser->turn_gap = gap_size(parser, text + 2, length - 2);
        return;
    }
    parser->over = length > 1 && text[1] == ';';
    parser->far = parser->over || (length > 1 && text[1] == ',');
    size_t sign = parser->far ? 2 : 1;
    parser->gap = gap_size(parser, text + sign, length - sign);
}

/* "<", "<<", ">", ">>". False where it is none. */
static bool put_edge(Parser *parser, const char *text, size_t length)
{
    if (length > 2 || text[0] != text[length - 1]) return false;
    Edge edge = length == 1 ? EDGE_CLAUSE : EDGE_TEXT;

    if (text[0] == '<')
        parser->start = edge;
    else if (text[0] == '>')
        parser->end = edge;
    return text[0] == '<' || text[0] == '>';
}

static bool has_bracket(const char *text, size_t length)
{
    for (size_t i = 0; i < length; i++)
        if (strchr("{}()<>", text[i]) != NULL) return true;
    return false;
}

static void put_piece(Parser *parser, const char *text, size_t length)
{
    bool optional = length > 1 && text[length - 1] == '?';
    if (optional) length--;
    char last = text[length - 1];

    if (put_edge(parser, text, length))
        return;
    else if (text[0] == '~')
        put_gap(parser, text, length);
    else if (text[0] == '{' && last == '}')
        put_class(parser, text + 1, length - 2, optional);
    else if (text[0] == '(' && last == ')')
        put(parser, alternatives(parser, text, length), optional);
    else if (text[0] == '#' && length == 1)
        put(parser, parser->rules->number, optional);
    else if (length == 4 && memcmp(text, "####", 4) == 0)
        put(parser, parser->rules->year, optional);
    else if (is_folded(text, length))
        put_folded(parser, text, length, optional);
    else if (has_bracket(text, length))
        fail(parser, "has a bracket out of place", text, length);
    else
        put_unfolded(parser, text, length, optional);
}

static Part part_of(const Piece *piece)
{
    return (Part){piece->symbol, piece->gap, piece->far, piece->over};
}

static void write_row(Draft *draft, const Written *row, const Part *parts)
{
    if (draft->n_written == draft->written_room)
        draft->written = g_renew(Written, draft->written, draft->written_room *= 2);
    if (draft->parts_room - draft->n_parts < PATTERN_ELEMENTS)
        draft->parts = g_renew(Part, draft->parts, draft->parts_room *= 2);
    draft->written[draft->n_written++] = *row;
    for (int i = 0; i < row->n; i++)
        draft->parts[draft->n_parts++] = parts[i];
    draft->parts[row->first].gap = 0;
}

static void emit(Parser *parser, const Part *elements, int n)
{
    Draft *draft = parser->rules->draft;
    Written row = {parser->class, (guint8)n, parser->start, parser->end, draft->n_parts};
    int gaps = 0, reach = n;

    if (n == 0 || n > PATTERN_ELEMENTS) {
        fail_plainly(parser, n == 0 ? "is empty" : "is too long",
                     "a pattern has 1 to 12 words or classes");
        return;
    }
    for (int i = 1; i < n; i++) {
        gaps += elements[i].gap > 0;
        reach += elements[i].gap;
    }
    if (gaps > PATTERN_GAPS || reach > PATTERN_REACH)
        fail_plainly(parser, "has too many gaps", "4 at most");
    write_row(draft, &row, elements);
}

/* Writes out what is optional, from piece i on. */
static void expand(Parser *parser, const Piece *pieces, int n, int i, Part *elements, int m)
{
    if (parser->failed) return;
    if (i == n) {
        emit(parser, elements, m);
        return;
    }
    if (pieces[i].optional) expand(parser, pieces, n, i + 1, elements, m);
    if (m < PIECES) {
        elements[m] = part_of(&pieces[i]);
        expand(parser, pieces, n, i + 1, elements, m + 1);
    }
}

static void begin(Parser *parser)
{
    parser->n = parser->turn = 0;
    parser->gap = 0;
    parser->far = parser->over = false;
    parser->start = parser->end = EDGE_NONE;
}

/* What stands on the two sides of an either-order gap, in both orders. */
static void expand_turns(Parser *parser)
{
    Part elements[PIECES + 1];
    Piece turned[PIECES];
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

static void finish(Parser *parser)
{
    Part elements[PIECES + 1];
    int optional = 0;

    for (int i = 0; i < parser->n; i++)
        optional += parser->pieces[i].optional;
    if (optional > 5) fail_plainly(parser, "has too many optional parts", "5 at most");
    if (parser->turn == parser->n && parser->turn != 0)
        fail_plainly(parser, "has an either-order gap without two sides", "~~");
    if (parser->failed) return;
    if (parser->turn != 0) {
        expand_turns(parser);
    } else if (parser->n == 1 && optional == 0) { /* a word of (a|b), as nearly all are */
        elements[0] = part_of(parser->pieces);
        emit(parser, elements, 1);
    } else {
        expand(parser, parser->pieces, parser->n, 0, elements, 0);
    }
}

/* Patterns one after the other, with a | between. */
static void compile_plain(Parser *parser, const char *text, size_t length)
{
    size_t from = 0;
    int depth = 0;

    begin(parser);
    for (size_t i = 0; i <= length; i++) {
        if (i < length && text[i] > ')' && text[i] != '|') continue; /* of a word */
        char c = i < length ? text[i] : '|';
        depth += (c == '(') - (c == ')');
        if (i < length && (depth != 0 || (c != '|' && c != ' '))) continue;
        if (i > from) put_piece(parser, text + from, i - from);
        from = i + 1;
        if (c == ' ') continue;
        if (depth != 0) fail_plainly(parser, "has an unclosed bracket", "( and ) come in pairs");
        finish(parser);
        begin(parser);
    }
}

/* (a|b|>): the words, or the end of the clause; two patterns. */
static void compile_or_end(Parser *parser, const char *text, size_t length)
{
    g_autofree char *whole = g_strndup(text, length);
    char *end = strstr(whole, OR_END);
    char *open = end;

    if (end == NULL) {
        compile_plain(parser, text, length);
        return;
    }
    for (int depth = 1; open > whole && depth > 0;) {
        open--;
        depth += *open == ')' ? 1 : *open == '(' ? -1 : 0;
    }
    g_autofree char *words = g_strdup_printf("%.*s%s", (int)(end - whole), whole, end + 2);
    g_autofree char *edge = g_strdup_printf("%.*s>", (int)(open - whole), whole);
    compile_or_end(parser, words, strlen(words));
    compile_or_end(parser, edge, strlen(edge));
}

/* Alternatives at the top are patterns of their own: "calf | calves". */
static void compile(Parser *parser, const char *text, size_t length)
{
    size_t from = 0;
    int depth = 0;

    if (!parser->ends) {
        compile_plain(parser, text, length);
        return;
    }
    for (size_t i = 0; i <= length; i++) {
        char c = i < length ? text[i] : '|';
        depth += (c == '(') - (c == ')');
        if (i < length && (depth != 0 || c != '|')) continue;
        compile_or_end(parser, text + from, i - from);
        from = i + 1;
    }
}

void rules_add_pattern(Rules *rules, Symbol class, const char *text, const TextPlace *place)
{
    Parser parser = {.rules = rules,
                     .class = class,
                     .place = place,
                     .text = text,
                     .ends = strstr(text, OR_END) != NULL};
    size_t length = strlen(text);

    if (length > 2000)
        fail_plainly(&parser, "is too long", "2000 bytes at most");
    else
        compile(&parser, text, length);
}
