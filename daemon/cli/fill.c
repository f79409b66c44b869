/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/cli/fill.h"

#include <glib.h>
#include <stdbool.h>
#include <stdio.h>

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
        if (*line != '\0' || lines[i + 1] != NULL) puts(line);
    }
    print_paragraph(paragraph);
}
