/* SPDX-License-Identifier: Apache-2.0 */
/* What keeps messages from a client at once: words of a death, of a hospital or an illness, and of somebody else who has the
 * number; and what only sounds like them. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

#include "adapters/files/packs.h"
#include "core/talk/reading.h"
#include "tests/support/replies.h"

/* What was read of each kind of bars_said.tsv. */
static const char *kind_of(const Reading *reading)
{
    if (reading->death && reading->suspend) return "death";
    if (reading->suspend) return "ill";
    if (reading->wrong_number) return "wrong";
    return "none";
}

/* An animal's death, or the client's own number put wrong, bars nothing. */
static const char *kind_wanted(const char *kind)
{
    return strcmp(kind, "pet") == 0 || strcmp(kind, "right") == 0 ? "none" : kind;
}

/* bars_said.tsv: all of them are read as what they are; where a person must look the client is asked nothing. */
static void bars_as_they_are_said(void **state)
{
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);
    g_autoptr(GPtrArray) packs = packs_load(NULL, messages);
    g_autofree char *text = NULL;
    int wrong = 0, lines = 0;

    (void)state;
    assert_true(g_file_get_contents("tests/core/talk/bars_said.tsv", &text, NULL, NULL));
    g_auto(GStrv) rows = g_strsplit(text, "\n", -1);
    for (char **row = rows + 1; *row != NULL; row++) {
        g_auto(GStrv) cells = g_strsplit(*row, "\t", 3);
        if (g_strv_length(cells) < 3) continue;
        g_autoptr(Reading) reading = replies_read_as(packs, cells[0], cells[2]);
        bool bars = strcmp(kind_wanted(cells[1]), "none") != 0;
        bool quiet = !bars || (reading->person && !reading->unclear);
        if (strcmp(cells[1], "pet") == 0)
            quiet = !reading->unclear && !reading->person && reading->rest == NULL;
        lines++;
        if (strcmp(kind_of(reading), kind_wanted(cells[1])) == 0 && quiet) continue;
        wrong++;
        print_message("%s, %s: \"%s\" is %s%s\n", cells[0], cells[1], cells[2], kind_of(reading),
                      quiet ? "" : ", and asked back or not for a person");
    }
    assert_true(lines >= 350);
    assert_int_equal(wrong, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(bars_as_they_are_said)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
