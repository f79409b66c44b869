/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/records/table_file.h"

#include <csv.h>
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

struct TableFile {
    FILE *out;
    bool within; /* a row: not its first cell */
};

TableFile *table_file_new(const char *path, char **why)
{
    int file = open(path, O_CREAT | O_EXCL | O_WRONLY | O_CLOEXEC | O_NOFOLLOW, 0600);
    FILE *out = file >= 0 ? fdopen(file, "w") : NULL;

    if (out == NULL) {
        *why = g_strdup_printf("cannot be made: %s", g_strerror(errno));
        if (file >= 0) close(file);
        return NULL;
    }
    TableFile *table = g_new0(TableFile, 1);
    table->out = out;
    return table;
}

/* What makes a spreadsheet compute: these at the beginning (OWASP, "CSV Injection"), the full-width forms too. */
static bool begins_formula(const char *text)
{
    static const char *const SIGNS[] = {"=",  "+",  "-",  "@",  "\t", "\r",
                                        "\n", "＝", "＋", "－", "＠"};

    for (size_t i = 0; i < G_N_ELEMENTS(SIGNS); i++)
        if (g_str_has_prefix(text, SIGNS[i])) return true;
    return false;
}

/* A text that itself begins with marks before such a sign gets one more, so that none is lost on the way back. */
static bool is_guarded(const char *text)
{
    return begins_formula(text + strspn(text, "'"));
}

const char *table_file_unguard(const char *text)
{
    return text[0] == '\'' && is_guarded(text) ? text + 1 : text;
}

static void next_cell(TableFile *file)
{
    if (file->within) putc(',', file->out);
    file->within = true;
}

void table_file_text(TableFile *file, const char *text)
{
    next_cell(file);
    if (text == NULL || *text == '\0') return;
    bool guard = is_guarded(text);
    bool blank = g_ascii_isspace(text[0]) || g_ascii_isspace(text[strlen(text) - 1]);
    if (!guard && !blank && strpbrk(text, ",;\"\r\n\t|") == NULL) {
        fputs(text, file->out);
        return;
    }
    g_autofree char *cell = guard ? g_strconcat("'", text, NULL) : g_strdup(text);
    csv_fwrite(file->out, cell, strlen(cell));
}

void table_file_integer(TableFile *file, int64_t number)
{
    next_cell(file);
    fprintf(file->out, "%" G_GINT64_FORMAT, number);
}

void table_file_real(TableFile *file, double number)
{
    char text[G_ASCII_DTOSTR_BUF_SIZE];

    next_cell(file);
    fputs(g_ascii_formatd(text, sizeof text, "%.15g", number), file->out);
}

void table_file_end_row(TableFile *file)
{
    fputs("\r\n", file->out);
    file->within = false;
}

char *table_file_close(TableFile *file)
{
    bool good = !ferror(file->out) && fflush(file->out) == 0 && fsync(fileno(file->out)) == 0;
    int error = errno;

    good = fclose(file->out) == 0 && good;
    g_free(file);
    return good ? NULL : g_strdup_printf("cannot be written: %s", g_strerror(error));
}
