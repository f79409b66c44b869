/* SPDX-License-Identifier: Apache-2.0 */
/* The text of statements, which are written once. What means something else to SQLite is said so that it means the same:
 * - arguments: ?1 is $1;
 * - LIKE takes capitals and small letters as the same, and has no escapes;
 * - null comes before everything in an order, and after everything in an order turned round (indexes are made that way);
 * - a plus before a name tells SQLite to leave its index alone; it is left out. */
#include <stdlib.h>
#include <string.h>

#include "adapters/store/postgres_part.h"

typedef struct {
    GString *text;
    int count;     /* of arguments */
    int depth;     /* of brackets */
    int ordering;  /* 1 + depth at which terms of an order are read; 0: none are */
    bool reversed; /* the term ends in DESC */
} Translation;

static void end_term(Translation *t)
{
    if (t->ordering == 0) return;
    g_string_append(t->text, t->reversed ? " NULLS LAST" : " NULLS FIRST");
    t->reversed = false;
}

static void end_order(Translation *t)
{
    end_term(t);
    t->ordering = 0;
}

/* A quoted text, or a word up to a space, bracket or comma: its length. */
static size_t word_length(const char *at)
{
    const char *end = *at == '\'' ? strchr(at + 1, '\'') : NULL;

    if (end != NULL) return (size_t)(end + 1 - at);
    return MAX(strcspn(at, " (),'"), 1);
}

static void put_word(Translation *t, const char *at, size_t length)
{
    if (*at == '?') {
        t->count = MAX(t->count, atoi(at + 1));
        g_string_append_c(t->text, '$');
    } else if (*at != '+' || length == 1) {
        g_string_append_c(t->text, *at);
    }
    g_string_append_len(t->text, at + 1, (gssize)length - 1);
}

static bool is(const char *at, size_t length, const char *word)
{
    return strlen(word) == length && strncmp(at, word, length) == 0;
}

static void put_bracket(Translation *t, char bracket)
{
    if (bracket == ')' && t->ordering == 1 + t->depth) end_order(t);
    t->depth += bracket == '(' ? 1 : -1;
    g_string_append_c(t->text, bracket);
}

static size_t put_next(Translation *t, const char *at)
{
    size_t length = word_length(at);

    if (is(at, length, "LIKE")) {
        length = strlen("LIKE ") + word_length(at + strlen("LIKE "));
        g_string_append(t->text, "ILIKE ");
        put_word(t, at + strlen("LIKE "), length - strlen("LIKE "));
        g_string_append(t->text, " ESCAPE ''");
    } else if (g_str_has_prefix(at, "ORDER BY ")) {
        t->ordering = 1 + t->depth;
        length = strlen("ORDER BY");
        g_string_append(t->text, "ORDER BY");
    } else if (is(at, length, "LIMIT") && t->ordering == 1 + t->depth) {
        /* the space before it is there already */
        end_order(t);
        g_string_append(t->text, " LIMIT");
    } else if (*at == '(' || *at == ')') {
        put_bracket(t, *at);
    } else if (*at == ',' && t->ordering == 1 + t->depth) {
        end_term(t);
        g_string_append_c(t->text, ',');
    } else {
        if (is(at, length, "DESC")) t->reversed = true;
        put_word(t, at, length);
    }
    return length;
}

char *postgres_translate(const char *sql, int *count)
{
    Translation t = {.text = g_string_new(NULL)};

    for (const char *at = sql; *at != '\0';)
        at += put_next(&t, at);
    end_order(&t);
    *count = t.count;
    return g_string_free(t.text, FALSE);
}
