/* SPDX-License-Identifier: Apache-2.0 */
/* HTML as far as mail programs write it: not a browser's parser, but one that loses no word that
 * would be seen, and survives anything. */
#include <stdlib.h>
#include <string.h>

#include "adapters/mail/body.h"

enum { NAME_MAX_BYTES = 16, DEPTH_MAX = 16, ENTITY_MAX = 12, QUOTES_MAX = 1024 };

/* What is never seen. */
static const char *const HIDDEN[] = {"script", "style", "title", NULL};

typedef struct {
    GString *out;
    int quoted;     /* blockquotes open */
    int kept;       /* pre open: its lines stand */
    bool line_open; /* something stands on the line in hand */
    bool space;     /* a space is owed */
    /* Known to be in vain from here on, so that no mail is searched through again and again: */
    bool no_tag;
    bool no_comment_end;
    unsigned no_end; /* a bit for each of HIDDEN */
} Writer;

static void end_line(Writer *writer)
{
    writer->space = false;
    if (!writer->line_open) return;
    g_string_append_c(writer->out, '\n');
    writer->line_open = false;
}

static void put_char(Writer *writer, gunichar c)
{
    if (c == '\n' && writer->kept > 0) {
        end_line(writer);
        return;
    }
    if (c == ' ' || c == '\n' || c == '\r' || c == '\t' || c == 0xA0) {
        writer->space = writer->line_open;
        return;
    }
    if (!writer->line_open)
        for (int i = 0; i < MIN(writer->quoted, DEPTH_MAX); i++)
            g_string_append(writer->out, "> ");
    if (writer->space) g_string_append_c(writer->out, ' ');
    writer->space = false;
    writer->line_open = true;
    g_string_append_unichar(writer->out, c);
}

typedef struct {
    char name[NAME_MAX_BYTES + 1]; /* lower case; "!--" for a comment */
    bool closes;
    const char *end; /* behind the > */
} Tag;

/* Attribute values may hold > within quotes; a quote that is not closed soon was none. */
static const char *tag_end(Writer *writer, const char *at)
{
    const char *from = at;
    char quote = '\0';

    for (; *at != '\0' && at - from < QUOTES_MAX; at++) {
        if (quote != '\0')
            quote = *at == quote ? '\0' : quote;
        else if ((*at == '"' || *at == '\'') && at[-1] == '=')
            quote = *at;
        else if (*at == '>')
            return at + 1;
    }
    const char *end = strchr(from, '>');
    writer->no_tag = end == NULL;
    return end != NULL ? end + 1 : NULL;
}

static const char *comment_end(Writer *writer, const char *at)
{
    const char *end = writer->no_comment_end ? NULL : strstr(at, "-->");

    writer->no_comment_end = end == NULL;
    return end != NULL ? end + 3 : NULL;
}

/* A tag at "<", or false where it is only a sign. */
static bool tag_read(Writer *writer, const char *at, Tag *tag)
{
    *tag = (Tag){.closes = at[1] == '/'};
    const char *name = at + 1 + tag->closes;

    if (g_str_has_prefix(at, "<!--")) {
        tag->end = comment_end(writer, at + 4);
    } else if (*name == '!' || *name == '?' || g_ascii_isalpha(*name)) {
        size_t length = 0;
        while (length < NAME_MAX_BYTES && g_ascii_isalnum(name[length])) {
            tag->name[length] = g_ascii_tolower(name[length]);
            length++;
        }
        tag->end = tag_end(writer, name + length);
    }
    return tag->end != NULL;
}

/* Where a hidden part ends; NULL where the tag hides nothing: a part that is never closed is not hidden. */
static const char *skip_hidden(Writer *writer, const Tag *tag)
{
    unsigned kind = 0;

    while (HIDDEN[kind] != NULL && strcmp(HIDDEN[kind], tag->name) != 0)
        kind++;
    if (tag->closes || HIDDEN[kind] == NULL || (writer->no_end & 1U << kind) != 0) return NULL;
    g_autofree char *end = g_strconcat("</", tag->name, NULL);
    size_t length = strlen(end);
    for (const char *at = tag->end; *at != '\0'; at++)
        if (*at == '<' && g_ascii_strncasecmp(at, end, length) == 0) return at;
    writer->no_end |= 1U << kind;
    return NULL;
}

static void count(int *open, bool closes)
{
    if (!closes)
        ++*open;
    else if (*open > 0)
        --*open;
}

static void hear_tag(Writer *writer, const Tag *tag)
{
    static const char *const BLOCKS[] = {"p",     "div",        "br",  "tr",     "li", "ul", "ol",
                                         "table", "h1",         "h2",  "h3",     "h4", "h5", "h6",
                                         "hr",    "blockquote", "pre", "center", NULL};

    if (g_strv_contains(BLOCKS, tag->name)) end_line(writer);
    if (strcmp(tag->name, "td") == 0 || strcmp(tag->name, "th") == 0)
        writer->space = writer->line_open;
    if (strcmp(tag->name, "blockquote") == 0) count(&writer->quoted, tag->closes);
    if (strcmp(tag->name, "pre") == 0) count(&writer->kept, tag->closes);
}

/* The character that an entity stands for and its length, or 0. */
static size_t entity_read(const char *at, gunichar *c)
{
    static const struct {
        const char *name;
        gunichar c;
    } NAMED[] = {{"amp", '&'},       {"lt", '<'},       {"gt", '>'},       {"quot", '"'},
                 {"apos", '\''},     {"nbsp", 0xA0},    {"rsquo", 0x2019}, {"lsquo", 0x2018},
                 {"ldquo", 0x201C},  {"rdquo", 0x201D}, {"ndash", 0x2013}, {"mdash", 0x2014},
                 {"hellip", 0x2026}, {"eacute", 0xE9},  {"egrave", 0xE8},  {"agrave", 0xE0},
                 {"ccedil", 0xE7},   {"ntilde", 0xF1},  {"aacute", 0xE1},  {"iacute", 0xED},
                 {"oacute", 0xF3},   {"uacute", 0xFA},  {"uuml", 0xFC},    {"ocirc", 0xF4},
                 {"ecirc", 0xEA},    {"acirc", 0xE2},   {"icirc", 0xEE},   {"ucirc", 0xFB},
                 {"deg", 0xB0},      {"frac12", 0xBD},  {"pound", 0xA3},   {"iquest", 0xBF},
                 {"iexcl", 0xA1},    {"oelig", 0x153},  {"ouml", 0xF6},    {"auml", 0xE4},
                 {"szlig", 0xDF},    {"ugrave", 0xF9},  {"iuml", 0xEF},    {"euml", 0xEB}};
    size_t length = 0;

    while (length < ENTITY_MAX && at[length] != '\0' && at[length] != ';')
        length++;
    if (at[length] != ';') return 0;
    if (at[1] == '#') {
        bool hex = at[2] == 'x' || at[2] == 'X';
        guint64 number = g_ascii_strtoull(at + (hex ? 3 : 2), NULL, hex ? 16 : 10);
        *c = number > 0 && number <= 0x10FFFF && g_unichar_validate((gunichar)number)
                 ? (gunichar)number
                 : 0xFFFD;
        return length + 1;
    }
    for (size_t i = 0; i < G_N_ELEMENTS(NAMED); i++)
        if (strlen(NAMED[i].name) == length - 1 &&
            strncmp(at + 1, NAMED[i].name, length - 1) == 0) {
            *c = NAMED[i].c;
            return length + 1;
        }
    return 0;
}

char *mail_html_text(const char *html)
{
    Writer writer = {.out = g_string_new(NULL)};
    g_autofree char *valid = g_utf8_make_valid(html, -1);
    Tag tag;
    gunichar c;

    for (const char *at = valid; *at != '\0';) {
        if (*at == '<' && !writer.no_tag && tag_read(&writer, at, &tag)) {
            const char *behind = skip_hidden(&writer, &tag);
            hear_tag(&writer, &tag);
            at = behind != NULL ? behind : tag.end;
            continue;
        }
        size_t length = *at == '&' ? entity_read(at, &c) : 0;
        if (length == 0) {
            c = g_utf8_get_char(at);
            length = (size_t)(g_utf8_next_char(at) - at);
        }
        put_char(&writer, c);
        at += length;
    }
    end_line(&writer);
    return g_string_free(writer.out, FALSE);
}
