/* SPDX-License-Identifier: Apache-2.0 */
/* What the client wrote, without what a mail program or a phone put around it. */
#include "core/talk/reading_fold.h"
#include "core/talk/reading_inside.h"

enum { LINE_FOLDED = 400 };

/* A line as the pack's cut patterns see it: folded, runs of space as one, nothing at the ends. */
static char *fold_line(const char *line, int length)
{
    GString *out = g_string_new(NULL);
    const char *end = line + MIN(length, LINE_FOLDED);
    Fold fold;

    for (const char *p = line; p < end; p = g_utf8_next_char(p)) {
        fold_char(g_utf8_get_char(p), &fold);
        if (fold.kind == FOLD_SPACE || fold.kind == FOLD_LINE) {
            if (out->len > 0 && out->str[out->len - 1] != ' ') g_string_append_c(out, ' ');
        } else if (fold.kind == FOLD_APOSTROPHE) {
            g_string_append_c(out, '\'');
        } else {
            g_string_append_len(out, fold.text, fold.length);
        }
    }
    while (out->len > 0 && out->str[out->len - 1] == ' ')
        g_string_truncate(out, out->len - 1);
    return g_string_free(out, FALSE);
}

typedef struct {
    const Pack *const *packs;
    int n;
} Packs;

static bool cuts(const Packs *packs, CutKind kind, const char *folded)
{
    for (int i = 0; i < packs->n; i++)
        if (rules_cuts(pack_rules(packs->packs[i]), kind, folded)) return true;
    return false;
}

/* The first letters of a line as fold_line gives them. */
static void fold_start(const char *line, int length, char start[LINE_START + 1])
{
    const char *end = line + length;
    int n = 0;
    Fold fold;

    for (const char *p = line; p < end && n < LINE_START; p = g_utf8_next_char(p)) {
        if (n == 0 && *p == ' ') continue;
        if (g_ascii_isalpha(*p)) {
            start[n++] = (char)(*p | 0x20);
            continue;
        }
        fold_char(g_utf8_get_char(p), &fold);
        if (fold.kind == FOLD_SPACE || fold.kind == FOLD_LINE) {
            if (n > 0 && start[n - 1] != ' ') start[n++] = ' ';
            continue;
        }
        for (int i = 0; i < fold.length && n < LINE_START; i++)
            start[n++] = fold.text[i];
    }
    start[n] = '\0';
}

/* Whether the packs' cut patterns need to see a line that begins so. */
static bool may_cut(const Packs *packs, const char *line, int length)
{
    char start[LINE_START + 1];

    fold_start(line, length, start);
    for (int i = 0; i < packs->n; i++)
        if (rules_may_cut(pack_rules(packs->packs[i]), start)) return true;
    return start[0] == '-' && start[1] == '-';
}

/* The end of the line that begins at `from`, its break not counted. */
static size_t line_end(const char *text, size_t from, size_t length)
{
    const char *found = memchr(text + from, '\n', length - from);
    return found != NULL ? (size_t)(found - text) : length;
}

static const char *first_mark(const char *line)
{
    while (*line == ' ' || *line == '\t' || *line == '\r')
        line++;
    return line;
}

/* Whether the next line that is not empty is a quoted one. */
static bool quote_follows(const char *text, size_t from, size_t length)
{
    while (from < length) {
        const char *p = text + from;
        while (p < text + length && g_ascii_isspace(*p))
            p++;
        if (p >= text + length) return false;
        return *p == '>';
    }
    return false;
}

/* Where quoted mail begins within a line, its breaks lost on the way: "4 0 On Monday Anna wrote: > Hello". The nearest
 * such heading before the mark; the line's end where there is none. */
static size_t quote_within(const Packs *packs, const char *text, size_t from, size_t end)
{
    enum { HEADING = 200 };

    for (const char *at = memchr(text + from, '>', end - from); at != NULL;
         at = memchr(at + 1, '>', (size_t)(text + end - at - 1))) {
        size_t mark = (size_t)(at - text);
        if (mark == from || text[mark - 1] != ' ') continue;
        size_t colon = mark - 1;
        while (colon > from && text[colon] == ' ')
            colon--;
        if (text[colon] != ':') continue;
        for (size_t word = colon; word > from && colon - word < HEADING; word--) {
            int length = (int)(colon + 1 - word);
            if (text[word - 1] != ' ' || !may_cut(packs, text + word, length)) continue;
            g_autofree char *heading = fold_line(text + word, length);
            if (cuts(packs, CUT_QUOTED, heading)) return word;
        }
        return end;
    }
    return end;
}

/* "A. D.": a line of two or three initials and nothing else. */
static bool initials(const char *line, size_t length)
{
    enum { FEW = 3 };
    size_t at = 0;
    int n = 0;

    while (at + 1 < length && g_ascii_isupper(line[at]) && line[at + 1] == '.') {
        n++;
        at += 2;
        while (at < length && (line[at] == ' ' || line[at] == '\r'))
            at++;
    }
    return at == length && n >= 2 && n <= FEW;
}

/* Copies the client's own lines. first: whether the packs' cut patterns may need to see the first, which begins as the text does. */
static void keep_lines(const Packs *packs, const char *text, size_t length, bool first,
                       GString *kept)
{
    size_t from = 0;

    while (from < length && kept->len < READ_BYTES_MAX) {
        size_t end = line_end(text, from, length);
        size_t next = end < length ? end + 1 : length;
        const char *mark = first_mark(text + from);
        if ((mark < text + length && *mark == '>' && !(mark[1] >= '0' && mark[1] <= '9')) ||
            (kept->len > 0 && initials(text + from, end - from))) {
            from = next;
            continue;
        }
        if ((from == 0 && !first) ||
            !may_cut(packs, text + from, (int)MIN(end - from, G_MAXINT / 2))) {
            size_t own = quote_within(packs, text, from, end);
            g_string_append_len(kept, text + from, (gssize)(own - from));
            g_string_append_c(kept, '\n');
            if (own < end) break;
            from = next;
            continue;
        }
        g_autofree char *folded = fold_line(text + from, (int)MIN(end - from, G_MAXINT / 2));
        size_t after = line_end(text, next, length);
        g_autofree char *both = fold_line(text + from, (int)MIN(after - from, G_MAXINT / 2));
        bool heading = cuts(packs, CUT_QUOTED, folded);
        bool heading_of_two = !heading && next < length && cuts(packs, CUT_HEADING, both);
        if (heading || heading_of_two) {
            size_t rest = heading ? next : MIN(after + 1, length);
            if (!quote_follows(text, rest, length)) break;
            from = rest;
            continue;
        }
        if (cuts(packs, CUT_SIGNATURE, folded) || strcmp(folded, "--") == 0) break;
        if (!cuts(packs, CUT_LINE, folded)) {
            g_string_append_len(kept, text + from, (gssize)(end - from));
            g_string_append_c(kept, '\n');
        }
        from = next;
    }
}

static void trim_to_limit(GString *kept)
{
    if (kept->len <= READ_BYTES_MAX) return;
    const char *end = kept->str + READ_BYTES_MAX;
    end = g_utf8_find_prev_char(kept->str, end + 1);
    g_string_truncate(kept, end != NULL ? (gsize)(end - kept->str) : 0);
}

/* Does the name of an element of HTML stand there (HTML Standard, Index of elements; those that mails are made of)? What people
 * put between such brackets themselves is theirs: "<chest pain since noon>". */
static bool names_element(const char *at)
{
    static const char *const ELEMENTS[] = {
        "a",   "b",     "blockquote", "body", "br", "center", "div",    "em",     "font",   "form",
        "h1",  "h2",    "h3",         "head", "hr", "html",   "i",      "iframe", "img",    "input",
        "li",  "link",  "meta",       "ol",   "p",  "pre",    "script", "span",   "strong", "style",
        "svg", "table", "tbody",      "td",   "th", "thead",  "title",  "tr",     "u",      "ul"};

    for (size_t i = 0; i < G_N_ELEMENTS(ELEMENTS); i++) {
        size_t length = strlen(ELEMENTS[i]);
        if (g_ascii_strncasecmp(at, ELEMENTS[i], length) == 0 && !g_ascii_isalnum(at[length]))
            return true;
    }
    return false;
}

/* The byte behind a mark-up tag that begins at a "<", or 0 where none does: "<3" and "< 4" are none. */
static size_t tag_end(const GString *text, size_t at)
{
    enum { TAG = 1000 };
    char next = text->str[at + 1];

    if (next != '!' && !names_element(text->str + at + 1 + (next == '/'))) return 0;
    for (size_t i = at + 1; i < MIN(text->len, at + TAG) && text->str[i] != '<'; i++)
        if (text->str[i] == '>') return i + 1;
    return 0;
}

/* Where the end tag of a program or a style begins, which is as little the client's own words; the text's end where
 * there is none. Its start tag itself where the tag is another. */
static size_t program_end(const GString *text, size_t tag, size_t behind)
{
    static const char *const NAMES[][2] = {{"<script", "</script"}, {"<style", "</style"}};

    for (size_t i = 0; i < G_N_ELEMENTS(NAMES); i++) {
        if (g_ascii_strncasecmp(text->str + tag, NAMES[i][0], strlen(NAMES[i][0])) != 0) continue;
        for (size_t at = behind; at < text->len; at++)
            if (g_ascii_strncasecmp(text->str + at, NAMES[i][1], strlen(NAMES[i][1])) == 0)
                return at;
        return text->len;
    }
    return behind;
}

/* Mark-up gives way to line breaks. True where there was any. */
static bool drop_tags(GString *text)
{
    size_t kept = 0;
    bool some = false;

    if (memchr(text->str, '<', text->len) == NULL) return false;
    for (size_t at = 0; at < text->len;) {
        size_t behind = text->str[at] == '<' ? tag_end(text, at) : 0;
        if (behind == 0) {
            text->str[kept++] = text->str[at++];
            continue;
        }
        some = true;
        at = program_end(text, at, behind);
        text->str[kept++] = '\n';
    }
    g_string_truncate(text, kept);
    return some;
}

static bool has_sense(const char *text)
{
    for (; *text != '\0'; text++)
        if (!g_ascii_isspace(*text)) return true;
    return false;
}

void text_cut(const Pack *const *packs, int n, const char *text, size_t length, Cut *cut)
{
    enum { INPUT_MAX = 1 << 20 };
    g_autofree char *valid = g_utf8_make_valid(text, (gssize)MIN(length, (size_t)INPUT_MAX));
    const Packs all = {packs, n};
    size_t size = strlen(valid);
    GString *kept = g_string_sized_new(MIN(size, (size_t)READ_BYTES_MAX) + 2);
    int seen = (int)MIN(size, (size_t)LINE_FOLDED * 2);
    bool begins_cut = may_cut(&all, valid, seen), reaction = false;

    if (begins_cut) {
        g_autofree char *start = fold_line(valid, seen);
        reaction = cuts(&all, CUT_REACTION, start);
    }
    if (!reaction) keep_lines(&all, valid, size, begins_cut, kept);
    cut->marked_up = drop_tags(kept);
    trim_to_limit(kept);
    cut->emptied = !reaction && has_sense(valid) && !has_sense(kept->str);
    cut->length = (int)kept->len;
    cut->text = g_string_free(kept, FALSE);
}
