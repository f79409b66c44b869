/* SPDX-License-Identifier: Apache-2.0 */
/* What the client wrote, without what a mail program or a phone put around it. */
#include "core/talk/reading_fold.h"
#include "core/talk/reading_inside.h"

enum { LINE_FOLDED = 400 };

static bool matches(const GPtrArray *patterns, const char *folded)
{
    for (guint i = 0; i < patterns->len; i++)
        if (g_pattern_spec_match_string(g_ptr_array_index(patterns, i), folded)) return true;
    return false;
}

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

/* Copies the client's own lines. */
static void keep_lines(const Rules *rules, const char *text, size_t length, GString *kept)
{
    size_t from = 0;

    while (from < length && kept->len < READ_BYTES_MAX) {
        size_t end = line_end(text, from, length);
        size_t next = end < length ? end + 1 : length;
        const char *mark = first_mark(text + from);
        if (mark < text + length && *mark == '>' && !(mark[1] >= '0' && mark[1] <= '9')) {
            from = next;
            continue;
        }
        g_autofree char *folded = fold_line(text + from, (int)MIN(end - from, G_MAXINT / 2));
        size_t after = line_end(text, next, length);
        g_autofree char *both = fold_line(text + from, (int)MIN(after - from, G_MAXINT / 2));
        bool heading = matches(rules->cut_quoted, folded);
        bool heading_of_two = !heading && next < length && matches(rules->cut_heading, both);
        if (heading || heading_of_two) {
            size_t rest = heading ? next : MIN(after + 1, length);
            if (!quote_follows(text, rest, length)) break;
            from = rest;
            continue;
        }
        if (matches(rules->cut_signature, folded) || strcmp(folded, "--") == 0) break;
        if (!matches(rules->cut_line, folded)) {
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

static bool has_sense(const char *text)
{
    for (; *text != '\0'; text++)
        if (!g_ascii_isspace(*text)) return true;
    return false;
}

char *text_cut(const Rules *rules, const char *text, size_t length, Work *work)
{
    enum { INPUT_MAX = 1 << 20 };
    g_autofree char *valid = g_utf8_make_valid(text, (gssize)MIN(length, (size_t)INPUT_MAX));
    GString *kept = g_string_new(NULL);

    size_t size = strlen(valid);
    g_autofree char *start = fold_line(valid, (int)MIN(size, (size_t)LINE_FOLDED * 2));
    work->reaction = matches(rules->cut_reaction, start);
    if (!work->reaction) keep_lines(rules, valid, size, kept);
    trim_to_limit(kept);
    work->emptied = !work->reaction && has_sense(valid) && !has_sense(kept->str);
    work->length = (int)kept->len;
    return g_string_free(kept, FALSE);
}
