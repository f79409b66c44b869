/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/cli/lines.h"

#include <stdio.h>

#include "daemon/cli/cli.h"

enum { LINE_MAX_BYTES = 1 << 17 };

static void unescape(GString *line)
{
    gsize n = 0;

    for (gsize i = 0; i < line->len; i++) {
        char c = line->str[i];
        if (c == '\\' && i + 1 < line->len && (line->str[i + 1] == 'n' || line->str[i + 1] == '\\'))
            c = line->str[++i] == 'n' ? '\n' : '\\';
        line->str[n++] = c;
    }
    g_string_truncate(line, n);
}

bool line_next(GString *line)
{
    int c = EOF;

    g_string_truncate(line, 0);
    while ((c = getchar_unlocked()) != EOF && c != '\n')
        if (line->len < LINE_MAX_BYTES) g_string_append_c(line, (char)c);
    if (c == EOF && line->len == 0) return false;
    if (line->len > 0 && line->str[line->len - 1] == '\r') g_string_truncate(line, line->len - 1);
    unescape(line);
    return true;
}

int lines_end(const char *command)
{
    return ferror(stdin) ? cli_fault(EXIT_IO, command, "standard input", "cannot be read")
                         : EXIT_OK;
}
