/* SPDX-License-Identifier: Apache-2.0 */
/* Spreadsheets as other programs save them, and what they write again. The forms are those of RFC 4180; encodings by the
 * Unicode Standard, section 23.8 (byte order mark), and the code charts of ISO 8859-1 and Windows-1252. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "adapters/records/sheet.h"
#include "adapters/records/table_file.h"
#include "tests/support/folder.h"

static Sheet *read_bytes(const char *bytes, gsize length, GPtrArray **faults)
{
    *faults = sheet_faults_new();
    return sheet_read_bytes(bytes, length, *faults);
}

static const char *cell(const Sheet *sheet, guint row, int column)
{
    assert_true(row < sheet->rows->len && column < sheet->columns);
    return g_array_index(sheet->rows, SheetRow, row).cells[column];
}

static void is_read(const char *bytes, gsize length, const char *encoding)
{
    g_autoptr(GPtrArray) faults = NULL;
    g_autoptr(Sheet) sheet = read_bytes(bytes, length, &faults);

    assert_non_null(sheet);
    assert_int_equal(faults->len, 0);
    assert_string_equal(sheet->encoding, encoding);
    assert_string_equal(sheet->header[0], "Name");
    assert_string_equal(cell(sheet, 0, 0), "Zoë");
    assert_string_equal(cell(sheet, 0, 1), "3");
}

static void is_refused(const char *bytes, gsize length, long row, const char *why)
{
    g_autoptr(GPtrArray) faults = NULL;
    g_autoptr(Sheet) sheet = read_bytes(bytes, length, &faults);

    assert_true(faults->len > 0);
    const SheetFault *fault = faults->pdata[0];
    if (strstr(fault->why, why) == NULL) fail_msg("\"%s\" is not \"%s\"", fault->why, why);
    assert_int_equal(fault->row, row);
}

#define IS_READ(bytes, encoding) is_read(bytes, sizeof(bytes) - 1, encoding)
#define IS_REFUSED(bytes, row, why) is_refused(bytes, sizeof(bytes) - 1, row, why)

static void encodings_are_told_apart(void **state)
{
    (void)state;
    IS_READ("Name,N\nZo\xc3\xab,3\n", "UTF-8");
    IS_READ("\xef\xbb\xbfName,N\r\nZo\xc3\xab,3\r\n", "UTF-8");
    IS_READ("Name,N\nZoe\xcc\x88,3\n", "UTF-8"); /* e and a combining diaeresis */
    IS_READ("Name,N\nZo\xeb,3\n", "Latin-1");
    IS_READ("Name,N,\x93x\x94\nZo\xeb,3,\n", "Windows-1252");
    IS_READ("\xff\xfeN\0a\0m\0e\0;\0N\0\n\0Z\0o\0\xeb\0;\0\x33\0\n\0", "UTF-16");
    IS_READ("\xfe\xff\0N\0a\0m\0e\0;\0N\0\n\0Z\0o\0\xeb\0;\0\x33\0\n", "UTF-16");
    IS_READ("N\0a\0m\0e\0;\0N\0\n\0Z\0o\0\xeb\0;\0\x33\0\n\0", "UTF-16");
    IS_REFUSED("Name\nZo\xc3\xab, Ren\xc3\xa9\xe9\n", 0, "damaged UTF-8");
    IS_REFUSED("\xef\xbb\xbfName\nZo\xeb\n", 0, "damaged UTF-8");
    IS_REFUSED("PK\x03\x04\x14\0\0\0\x08\0\x13\x08\0\0", 0, "no text");
}

static void separators_and_quotes_are_read(void **state)
{
    (void)state;
    IS_READ("Name;N\nZo\xc3\xab;3\n", "UTF-8");
    IS_READ("Name\tN\nZo\xc3\xab\t3\n", "UTF-8");
    IS_READ("sep=|\nName|N\nZo\xc3\xab|3", "UTF-8");
    IS_READ("\"Name\",\"N;N;N\"\n  Zo\xc3\xab ,\"3\"\n", "UTF-8");
    g_autoptr(GPtrArray) faults = NULL;
    const char *text = "Name,Note\r\nAda,\"said \"\"no\"\", then\r\nyes\"\r\n\r\n,\r\nBob,\r\n";
    g_autoptr(Sheet) sheet = read_bytes(text, strlen(text), &faults);
    assert_int_equal(faults->len, 0);
    assert_int_equal(sheet->rows->len, 2);
    assert_string_equal(cell(sheet, 0, 1), "said \"no\", then\nyes");
    assert_string_equal(cell(sheet, 1, 0), "Bob");
    /* the header is row 1; an empty row counts as the spreadsheet counts it */
    assert_int_equal(g_array_index(sheet->rows, SheetRow, 1).number, 5);
}

static void what_is_wrong_has_its_place(void **state)
{
    (void)state;
    IS_REFUSED("", 0, "is empty");
    IS_REFUSED("\n\n,,\n", 0, "is empty");
    IS_REFUSED("Name,N\nAda\n", 2, "has 1 cells, the header 2");
    IS_REFUSED("Name,N\nAda,1\nBob,2,3\n", 3, "has 3 cells, the header 2");
    IS_REFUSED("Name,N\nAda,1\nBob,a\"b\n", 3, "quotation mark");
    IS_REFUSED("Name,N\nAda,\"1\nBob,2\n", 2, "never ends");
    IS_REFUSED("Name,N\nAd\x07"
               "a,1\n",
               2, "control character");
    g_autoptr(GPtrArray) faults = sheet_faults_new();
    assert_null(sheet_read("/dev/zero", faults));
    assert_null(sheet_read("/nowhere/at/all.csv", faults));
    assert_string_equal(((SheetFault *)faults->pdata[0])->why, "is no plain file");
    GString *wide = g_string_new("Name");
    for (int i = 0; i < SHEET_COLUMNS_MAX; i++)
        g_string_append(wide, ",x");
    is_refused(wide->str, wide->len, 1, "more than 200 columns");
    g_string_free(wide, TRUE);
}

/* --- writing ---------------------------------------------------------------------------------- */

static char *written(const char *const *cells)
{
    char *folder = folder_new();
    g_autofree char *path = g_build_filename(folder, "t.csv", NULL);
    char *why = NULL, *text = NULL;
    TableFile *file = table_file_new(path, &why);

    assert_non_null(file);
    for (int i = 0; cells[i] != NULL; i++)
        table_file_text(file, cells[i]);
    table_file_end_row(file);
    assert_null(table_file_close(file));
    assert_null(table_file_new(path, &why));
    g_free(why);
    assert_true(g_file_get_contents(path, &text, NULL, NULL));
    folder_remove(folder);
    return text;
}

static void cells_are_quoted_as_they_must_be(void **state)
{
    static const char *const CELLS[] = {"plain",        "",     "a,b", "say \"hi\"",
                                        "two\r\nlines", " led", NULL};
    g_autofree char *text = written(CELLS);

    (void)state;
    assert_string_equal(text, "plain,,\"a,b\",\"say \"\"hi\"\"\",\"two\r\nlines\",\" led\"\r\n");
}

/* The first characters are those of OWASP's page on CSV injection. */
static void no_cell_is_a_formula_and_none_is_lost(void **state)
{
    static const char *const CELLS[] = {
        "=1+1", "+442079460001", "-2",  "@SUM(A1)",           "'=1", "''=1", "'plain",
        "\t=1", "＝1",           "a=1", "=cmd|' /C calc'!A0", NULL};
    g_autofree char *text = written(CELLS);
    g_autofree char *sheet_text = g_strconcat("a,b,c,d,e,f,g,h,i,j,k\r\n", text, NULL);
    g_autoptr(GPtrArray) faults = NULL;
    g_autoptr(Sheet) sheet = read_bytes(sheet_text, strlen(sheet_text), &faults);

    (void)state;
    for (const char *at = text; at != NULL; at = strchr(at + 1, ','))
        assert_false(strchr("=+-@", at[*at == ',' ? 1 : 0]) != NULL);
    assert_int_equal(faults->len, 0);
    for (int i = 0; CELLS[i] != NULL; i++)
        assert_string_equal(cell(sheet, 0, i), CELLS[i]);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(encodings_are_told_apart),
        cmocka_unit_test(separators_and_quotes_are_read),
        cmocka_unit_test(what_is_wrong_has_its_place),
        cmocka_unit_test(cells_are_quoted_as_they_must_be),
        cmocka_unit_test(no_cell_is_a_formula_and_none_is_lost),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
