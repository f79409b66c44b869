/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/records/sheet.h"

#include <csv.h>
#include <errno.h>
#include <fcntl.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "adapters/records/charset.h"
#include "adapters/records/table_file.h"

#define FAULTS_MAX 1000

static void fault_free(gpointer data)
{
    SheetFault *fault = data;

    g_free(fault->column);
    g_free(fault->value);
    g_free(fault->why);
    g_free(fault);
}

GPtrArray *sheet_faults_new(void)
{
    return g_ptr_array_new_with_free_func(fault_free);
}

void sheet_fault(GPtrArray *faults, long row, const char *column, const char *value,
                 const char *why, ...)
{
    SheetFault *fault = g_new0(SheetFault, 1);
    va_list list;

    va_start(list, why);
    *fault = (SheetFault){.row = row,
                          .column = g_strdup(column),
                          .value = g_strdup(value),
                          .why = g_strdup_vprintf(why, list)};
    va_end(list);
    g_ptr_array_add(faults, fault);
}

/* --- rows ------------------------------------------------------------------------------------- */

typedef struct {
    Sheet *sheet;
    GPtrArray *faults;
    GPtrArray *cells; /* of the row being read */
    long row;         /* its number */
    bool too_many;    /* of rows or columns: nothing more is kept */
} Reading;

static bool is_blank(gunichar letter)
{
    return g_unichar_isspace(letter) || letter == 0xfeff || letter == 0x200b;
}

/* Trimmed, composed, without the mark against formulas (g_free). */
static char *clean_cell(const char *bytes, size_t length)
{
    g_autofree char *composed = g_utf8_normalize(bytes, (gssize)length, G_NORMALIZE_NFC);
    const char *from = composed, *end = composed + strlen(composed);

    while (*from != '\0' && is_blank(g_utf8_get_char(from)))
        from = g_utf8_next_char(from);
    while (end > from) {
        const char *last = g_utf8_prev_char(end);
        if (!is_blank(g_utf8_get_char(last))) break;
        end = last;
    }
    g_autofree char *trimmed = g_strndup(from, (gsize)(end - from));
    return g_strdup(table_file_unguard(trimmed));
}

static void take_cell(void *bytes, size_t length, void *context)
{
    Reading *reading = context;

    if (reading->cells->len > SHEET_COLUMNS_MAX) return;
    g_ptr_array_add(reading->cells, clean_cell(bytes, length));
}

static bool has_control(const char *text)
{
    for (const char *at = text; *at != '\0'; at = g_utf8_next_char(at))
        if (g_unichar_iscntrl(g_utf8_get_char(at)) && *at != '\n' && *at != '\r' && *at != '\t')
            return true;
    return false;
}

static bool is_empty(const GPtrArray *cells, guint from)
{
    for (guint i = from; i < cells->len; i++)
        if (*(const char *)cells->pdata[i] != '\0') return false;
    return true;
}

static bool row_is_good(Reading *reading)
{
    guint columns = (guint)reading->sheet->columns;
    guint before = reading->faults->len;

    if (reading->cells->len < columns || !is_empty(reading->cells, columns)) {
        sheet_fault(reading->faults, reading->row, "", "", "has %u cells, the header %u",
                    reading->cells->len, columns);
        return false;
    }
    for (guint i = 0; i < columns; i++) {
        const char *cell = reading->cells->pdata[i];
        if (strlen(cell) > SHEET_CELL_MAX)
            sheet_fault(reading->faults, reading->row, reading->sheet->header[i], "",
                        "is longer than %d bytes", SHEET_CELL_MAX);
        else if (has_control(cell))
            sheet_fault(reading->faults, reading->row, reading->sheet->header[i], "",
                        "holds a control character");
    }
    return reading->faults->len == before;
}

static void take_header(Reading *reading)
{
    Sheet *sheet = reading->sheet;

    while (reading->cells->len > 0 &&
           *(const char *)reading->cells->pdata[reading->cells->len - 1] == '\0')
        g_ptr_array_set_size(reading->cells, (gint)reading->cells->len - 1);
    if (reading->cells->len == 0) return;
    sheet->columns = (int)reading->cells->len;
    sheet->header = g_new0(char *, reading->cells->len + 1);
    for (guint i = 0; i < reading->cells->len; i++)
        sheet->header[i] = g_strdup(reading->cells->pdata[i]);
}

static void keep_row(Reading *reading)
{
    SheetRow row = {.number = reading->row,
                    .cells = g_new0(char *, (gsize)reading->sheet->columns + 1)};

    for (int i = 0; i < reading->sheet->columns; i++)
        row.cells[i] = g_strdup(reading->cells->pdata[i]);
    g_array_append_val(reading->sheet->rows, row);
}

static void take_row(int end, void *context)
{
    Reading *reading = context;

    (void)end;
    reading->row++;
    if (reading->cells->len > SHEET_COLUMNS_MAX && !reading->too_many) {
        sheet_fault(reading->faults, reading->row, "", "", "has more than %d columns",
                    SHEET_COLUMNS_MAX);
        reading->too_many = true;
    } else if (reading->sheet->rows->len >= SHEET_ROWS_MAX && !reading->too_many) {
        sheet_fault(reading->faults, reading->row, "", "",
                    "is beyond the %d rows that one import may have; cut the file in parts",
                    SHEET_ROWS_MAX);
        reading->too_many = true;
    }
    if (!reading->too_many && !is_empty(reading->cells, 0)) {
        if (reading->sheet->columns == 0)
            take_header(reading);
        else if (row_is_good(reading))
            keep_row(reading);
        if (reading->faults->len >= FAULTS_MAX) reading->too_many = true;
    }
    g_ptr_array_set_size(reading->cells, 0);
}

/* --- the file --------------------------------------------------------------------------------- */

/* The separator that stands most often in the first line, outside quotes. "sep=;" before it says so. */
static char find_separator(const char **text)
{
    static const char SEPARATORS[] = ",;\t|";
    int counts[G_N_ELEMENTS(SEPARATORS)] = {0};
    bool quoted = false;
    int best = 0;

    if (g_ascii_strncasecmp(*text, "sep=", 4) == 0 && (*text)[4] != '\0' &&
        ((*text)[5] == '\r' || (*text)[5] == '\n')) {
        char separator = (*text)[4];
        *text += 5;
        *text += strspn(*text, "\r\n");
        return separator;
    }
    for (const char *at = *text; *at != '\0' && (quoted || (*at != '\n' && *at != '\r')); at++) {
        const char *found = strchr(SEPARATORS, *at);
        if (*at == '"') quoted = !quoted;
        if (found != NULL && !quoted) counts[found - SEPARATORS]++;
    }
    for (int i = 1; SEPARATORS[i] != '\0'; i++)
        if (counts[i] > counts[best]) best = i;
    return SEPARATORS[best];
}

/* Blanks are trimmed as Unicode says, not as the parser would: it must not take a tab off that separates. */
static int never_space(unsigned char byte)
{
    (void)byte;
    return 0;
}

static void parse(Reading *reading, const char *text)
{
    struct csv_parser parser;
    size_t length = strlen(text);

    /* Every line end counts, so that rows are numbered as the spreadsheet does: an empty line is a row. */
    csv_init(&parser, CSV_STRICT | CSV_STRICT_FINI | CSV_REPALL_NL | CSV_APPEND_NULL);
    csv_set_delim(&parser, (unsigned char)reading->sheet->separator);
    csv_set_space_func(&parser, never_space);
    if (csv_parse(&parser, text, length, take_cell, take_row, reading) != length)
        sheet_fault(reading->faults, reading->row + 1, "", "",
                    "has a quotation mark in the midst of a cell; a cell that holds one is "
                    "\"quoted\", and its own are doubled");
    else if (csv_fini(&parser, take_cell, take_row, reading) != 0)
        sheet_fault(reading->faults, reading->row + 1, "", "", "has a quoted cell that never ends");
    csv_free(&parser);
}

/* "\r\n" and "\r" as "\n": the parser would report a row for each. In place. */
static void plain_line_ends(char *text)
{
    char *to = text;

    for (const char *at = text; *at != '\0'; at++) {
        if (*at == '\r' && at[1] == '\n') continue;
        *to++ = *at == '\r' ? '\n' : *at;
    }
    *to = '\0';
}

Sheet *sheet_read_bytes(const char *bytes, gsize length, GPtrArray *faults)
{
    const char *why = NULL;
    g_autoptr(Sheet) sheet = g_new0(Sheet, 1);
    g_autofree char *text = charset_to_utf8(bytes, length, &sheet->encoding, &why);

    sheet->rows = g_array_new(FALSE, FALSE, sizeof(SheetRow));
    if (text == NULL) {
        sheet_fault(faults, 0, "", "", "%s", why);
        return NULL;
    }
    plain_line_ends(text);
    const char *from = text;
    sheet->separator = find_separator(&from);
    Reading reading = {.sheet = sheet,
                       .faults = faults,
                       .cells = g_ptr_array_new_with_free_func(g_free),
                       .row = from != text};
    parse(&reading, from);
    g_ptr_array_unref(reading.cells);
    if (sheet->columns == 0) {
        sheet_fault(faults, 0, "", "", "is empty: the first row must name the columns");
        return NULL;
    }
    return g_steal_pointer(&sheet);
}

/* The bytes of a plain file within bounds (g_free), or NULL with a fault. */
static char *read_file(const char *path, gsize *length, GPtrArray *faults)
{
    int file = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK);
    struct stat about;
    char *bytes = NULL;
    g_autoptr(GError) error = NULL;

    if (file < 0 || fstat(file, &about) != 0) {
        sheet_fault(faults, 0, "", "", "cannot be read: %s", g_strerror(errno));
    } else if (!S_ISREG(about.st_mode)) {
        sheet_fault(faults, 0, "", "", "is no plain file");
    } else if (about.st_size > SHEET_BYTES_MAX) {
        sheet_fault(faults, 0, "", "", "is larger than %d MB; cut it in parts",
                    SHEET_BYTES_MAX / 1024 / 1024);
    } else if (!g_file_get_contents(path, &bytes, length, &error)) {
        sheet_fault(faults, 0, "", "", "%s", error->message);
    }
    if (file >= 0) close(file);
    return bytes;
}

Sheet *sheet_read(const char *path, GPtrArray *faults)
{
    gsize length = 0;
    g_autofree char *bytes = read_file(path, &length, faults);

    return bytes != NULL ? sheet_read_bytes(bytes, length, faults) : NULL;
}

void sheet_free(Sheet *sheet)
{
    if (sheet == NULL) return;
    for (guint i = 0; sheet->rows != NULL && i < sheet->rows->len; i++)
        g_strfreev(g_array_index(sheet->rows, SheetRow, i).cells);
    if (sheet->rows != NULL) g_array_unref(sheet->rows);
    g_strfreev(sheet->header);
    g_free(sheet);
}
