/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/cli/fill.h"

#include <glib.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#define COLUMNS 80

void fill_print(const char *text, const char *first, const char *rest)
{
    g_auto(GStrv) words = g_strsplit_set(text, " \n", -1);
    glong at = g_utf8_strlen(first, -1);
    bool at_start = true;

    fputs(first, stdout);
    for (int i = 0; words[i] != NULL; i++) {
        glong width = g_utf8_strlen(words[i], -1);
        if (width == 0) continue;
        if (!at_start && at + 1 + width > COLUMNS) {
            printf("\n%s", rest);
            at = g_utf8_strlen(rest, -1);
            at_start = true;
        }
        printf("%s%s", at_start ? "" : " ", words[i]);
        at += width + (at_start ? 0 : 1);
        at_start = false;
    }
    putchar('\n');
}

static void print_paragraph(GString *paragraph)
{
    if (paragraph->len > 0) fill_print(paragraph->str, "", "");
    g_string_truncate(paragraph, 0);
}

static bool is_option(const char *word)
{
    return g_str_has_prefix(word, "--") || g_str_has_prefix(word, "[--");
}

/* The words of a command as a shell takes them: what stands in quotes is one (of char *). */
static GPtrArray *shell_words(const char *command)
{
    GPtrArray *words = g_ptr_array_new_with_free_func(g_free);
    g_autoptr(GString) word = g_string_new(NULL);
    bool quoted = false;

    for (const char *at = command;; at++) {
        if (*at == '"') quoted = !quoted;
        if (*at != '\0' && (*at != ' ' || quoted)) {
            g_string_append_c(word, *at);
            continue;
        }
        if (word->len > 0) g_ptr_array_add(words, g_strdup(word->str));
        g_string_truncate(word, 0);
        if (*at == '\0') return words;
    }
}

/* Goes on in the next line behind a backslash, and leaves an option beside its value. A list of more options needs none. */
static void print_command(const char *command, int indent)
{
    const char *end = command[indent] == '[' ? "" : " \\";
    g_autoptr(GPtrArray) words = shell_words(command);
    g_autoptr(GString) line = g_string_new(NULL);

    g_string_append_printf(line, "%*s%s", indent, "", (char *)words->pdata[0]);
    for (guint i = 1; i < words->len; i++) {
        const char *word = words->pdata[i], *value = i + 1 < words->len ? words->pdata[i + 1] : "";
        bool beside = is_option(word) && !is_option(value);
        glong width = g_utf8_strlen(word, -1) + (beside ? 1 + g_utf8_strlen(value, -1) : 0);
        bool is_value = is_option(words->pdata[i - 1]) && !is_option(word);
        if (!is_value && g_utf8_strlen(line->str, -1) + 1 + width > COLUMNS - 2) {
            printf("%s%s\n", line->str, end);
            g_string_printf(line, "      %s", word);
        } else {
            g_string_append_printf(line, " %s", word);
        }
    }
    puts(line->str);
}

/* An example, or a line of a list: what is said of it stands behind two spaces or more, and below it where both do not fit. */
static void print_example(const char *line)
{
    int indent = (int)strspn(line, " ");
    const char *gap = strstr(line + indent, "  ");

    if (g_utf8_strlen(line, -1) <= COLUMNS) {
        puts(line);
        return;
    }
    g_autofree char *command = gap != NULL ? g_strndup(line, (gsize)(gap - line)) : g_strdup(line);
    print_command(command, indent);
    if (gap == NULL) return;
    g_autofree char *below = g_strnfill((gsize)indent + 4, ' ');
    fill_print(gap, below, below);
}

void fill_help(const char *help)
{
    g_auto(GStrv) lines = g_strsplit(help, "\n", -1);
    g_autoptr(GString) paragraph = g_string_new(NULL);

    for (int i = 0; lines[i] != NULL; i++) {
        const char *line = lines[i];
        if (*line != '\0' && *line != ' ') {
            g_string_append_printf(paragraph, "%s ", line);
            continue;
        }
        print_paragraph(paragraph);
        if (*line != '\0' || lines[i + 1] != NULL) print_example(line);
    }
    print_paragraph(paragraph);
}
