/* SPDX-License-Identifier: Apache-2.0 */
/* Hand-outs and odd sheets as PDF, read back by poppler (pdftotext). */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "adapters/chart/chart.h"
#include "core/paper/handout.h"
#include "tests/support/folder.h"
#include "tests/support/handouts.h"
#include "tests/support/language.h"
#include "tests/support/programmes.h"

/* The last lines of a page are its footer. A page of an A4 or Letter sheet at 16 to 18 pt holds 28 to 36 lines. */
#define HANDOUT_LINES_LEAST 8
#define LINES_LEAST 6
#define PAGES_MOST 12

static Paper *handout_of(const Pack *pack, const Programme *programme, const Stage *stage,
                         bool letter, bool large)
{
    return handout_made(
        pack, programme, stage,
        &(HandoutWish){.channel = CHANNEL_SMS, .side = "both", .letter = letter, .large = large});
}

/* The text of each page (g_strfreev). OSIER_TEST_PICTURES=DIR keeps the sheet, to be looked at. */
static char **pages_of(const char *folder, const char *name, const Paper *sheet)
{
    const char *kept = g_getenv("OSIER_TEST_PICTURES");
    g_autofree char *path = g_build_filename(kept != NULL ? kept : folder, name, NULL);
    g_autofree char *command = g_strdup_printf("pdftotext -layout '%s' -", path);
    g_autoptr(GBytes) pdf = chart_sheet(sheet);
    g_autofree char *text = NULL;
    int status = 0;

    assert_true(g_file_set_contents(path, g_bytes_get_data(pdf, NULL),
                                    (gssize)g_bytes_get_size(pdf), NULL));
    assert_true(g_spawn_command_line_sync(command, &text, NULL, &status, NULL));
    assert_int_equal(status, 0);
    assert_true(text[strlen(text) - 1] == '\f');
    text[strlen(text) - 1] = '\0';
    return g_strsplit(text, "\f", -1);
}

static int lines_of(const char *page)
{
    g_auto(GStrv) lines = g_strsplit(page, "\n", -1);
    int n = 0;

    for (char **line = lines; *line != NULL; line++)
        n += *g_strstrip(*line) != '\0';
    return n;
}

static void check_pages(char **pages, const char *name, int least)
{
    int n = (int)g_strv_length(pages);

    if (n > PAGES_MOST) fail_msg("%s: %d pages", name, n);
    for (int i = 0; i < n; i++)
        if (lines_of(pages[i]) < least)
            fail_msg("%s: page %d of %d holds only:\n%s", name, i + 1, n, pages[i]);
}

/* Every stage of every programme in every language, size and paper. */
static void no_hand_out_has_a_page_for_a_line_or_two(void **state)
{
    static const char *const LANGUAGES[] = {"en", "es", "fr"};
    static const char *const PROGRAMMES[] = {CALF_AND_HAMSTRING,
                                             "config/programmes/tall-and-open.yaml",
                                             "config/programmes/steady-at-the-worktop.yaml"};
    char *folder = folder_new();

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(PROGRAMMES) * G_N_ELEMENTS(LANGUAGES); i++) {
        const char *language = LANGUAGES[i % G_N_ELEMENTS(LANGUAGES)];
        g_autoptr(Programme) programme = programme_shipped(PROGRAMMES[i / G_N_ELEMENTS(LANGUAGES)]);
        g_autoptr(Pack) pack = language_pack(language);
        for (int s = 0; s < 4 * programme_stages(programme); s++) {
            const Stage *stage = programme_stage_at(programme, s / 4);
            bool letter = s % 4 / 2 != 0;
            bool large = s % 2 != 0;
            g_autofree char *name = g_strdup_printf("%s-%s-%s-%s.pdf", stage->key, language,
                                                    letter ? "letter" : "a4", large ? "18" : "16");
            g_autoptr(Paper) sheet = handout_of(pack, programme, stage, letter, large);
            g_auto(GStrv) pages = pages_of(folder, name, sheet);
            check_pages(pages, name, HANDOUT_LINES_LEAST);
        }
    }
    folder_remove(folder);
}

/* Sheets of every length from one page to three: the text is whole and in order, and where there are more pages than one the
 * last is not thin. */
static void sheets_of_any_length(void **state)
{
    char *folder = folder_new();

    (void)state;
    for (int n = 1; n <= 60; n++) {
        g_autoptr(Paper) sheet = paper_new("Lines", 16, n % 2 == 0);
        g_autofree char *name = g_strdup_printf("lines-%02d.pdf", n);
        sheet->footer = g_strdup("a footer");
        sheet->page_words = g_strdup("page {value} of {total}");
        for (int i = 0; i < n; i++) {
            g_autofree char *text = g_strdup_printf("line-%d-", i);
            paper_add(sheet, i % 9 == 0 ? BLOCK_HEADING : BLOCK_TEXT, text);
        }
        g_auto(GStrv) pages = pages_of(folder, name, sheet);
        g_autofree char *text = g_strjoinv("\f", pages);
        const char *at = text;
        for (int i = 0; i < n; i++) {
            g_autofree char *line = g_strdup_printf("line-%d-", i);
            at = strstr(at, line);
            if (at == NULL) fail_msg("%s: %s is lost", name, line);
        }
        if (g_strv_length(pages) > 1) check_pages(pages, name, LINES_LEAST);
    }
    folder_remove(folder);
}

/* A table that goes on says on each page what its columns are, and no page ends with the head alone or one row of it. */
static void a_table_is_named_on_each_page(void **state)
{
    static const double SHARE[] = {0.5, 0.5};
    static const char *const HEAD[] = {"kind-of-thing", "count-of-it"};
    static const char *const ROW[] = {"pebble", "three"};
    char *folder = folder_new();

    (void)state;
    for (int before = 1; before <= 30; before++) {
        g_autoptr(Paper) sheet = paper_new("Table", 16, false);
        g_autofree char *name = g_strdup_printf("table-%02d.pdf", before);
        sheet->footer = g_strdup("a footer");
        sheet->page_words = g_strdup("page {value} of {total}");
        for (int i = 0; i < before; i++)
            paper_add(sheet, BLOCK_TEXT, "a line");
        paper_row(sheet, true, SHARE, 2, HEAD);
        for (int i = 0; i < 60; i++)
            paper_row(sheet, false, SHARE, 2, ROW);
        g_auto(GStrv) pages = pages_of(folder, name, sheet);
        assert_true(g_strv_length(pages) >= 3);
        for (char **page = pages; *page != NULL; page++) {
            const char *head = strstr(*page, "kind-of-thing");
            const char *row = strstr(*page, "pebble");
            assert_true(row == NULL ? head == NULL : head != NULL && head < row);
            if (row != NULL) assert_non_null(strstr(row + 1, "pebble"));
        }
    }
    folder_remove(folder);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(no_hand_out_has_a_page_for_a_line_or_two),
        cmocka_unit_test(sheets_of_any_length),
        cmocka_unit_test(a_table_is_named_on_each_page),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
