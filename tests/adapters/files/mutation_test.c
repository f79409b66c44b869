/* SPDX-License-Identifier: Apache-2.0 */
/* Settings damaged at random either load or are complained about; nothing crashes. OSIER_SEED and
 * OSIER_ROUNDS choose other damage and more of it. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <stdlib.h>
#include <string.h>

#include "adapters/files/complaint.h"
#include "adapters/files/tree.h"
#include "core/clinic/clinic.h"
#include "tests/support/folder.h"
#include "tests/support/settings.h"

/* What people and programs put where it does not belong. */
static const char *const PIECES[] = {"{",
                                     "}",
                                     "[",
                                     "]",
                                     ": ",
                                     "\n",
                                     "- ",
                                     "\"",
                                     "'",
                                     "#",
                                     "&a ",
                                     "*a",
                                     "!!int ",
                                     "<<: ",
                                     "|\n",
                                     ">\n",
                                     "?",
                                     "---\n",
                                     "%YAML",
                                     "\t",
                                     "null",
                                     "true",
                                     "-1",
                                     "1e999",
                                     "9223372036854775808",
                                     "0.0000001",
                                     "{secret:",
                                     "{to}",
                                     "{{",
                                     "\xC3",
                                     "\xF0\x9F\x98\x80",
                                     "\\",
                                     "\\u0000",
                                     "~",
                                     "/",
                                     "2026-02-30",
                                     "25:00",
                                     "999999999d",
                                     "+44",
                                     "a: b: c",
                                     "  ",
                                     ",",
                                     "\r\n",
                                     "\xE2\x80\xAE"};

static guint64 from_environment(const char *name, guint64 otherwise)
{
    const char *text = g_getenv(name);

    return text != NULL ? g_ascii_strtoull(text, NULL, 10) : otherwise;
}

static void damage(GString *text, GRand *rand)
{
    if (text->len == 0) return;
    gsize at = (gsize)g_rand_int_range(rand, 0, (gint32)text->len);
    gsize length = (gsize)g_rand_int_range(rand, 1, 40);
    length = MIN(length, text->len - at);
    const char *piece = PIECES[g_rand_int_range(rand, 0, G_N_ELEMENTS(PIECES))];
    g_autofree char *copy = g_strndup(text->str + at, length);

    switch (g_rand_int_range(rand, 0, 7)) {
    case 0: g_string_insert(text, (gssize)at, piece); break;
    case 1: g_string_erase(text, (gssize)at, (gssize)length); break;
    case 2: g_string_insert(text, (gssize)at, copy); break;
    case 3:
        if (at < text->len) text->str[at] = (char)g_rand_int_range(rand, 0, 256);
        break;
    case 4: g_string_truncate(text, at); break;
    case 5:
        g_string_erase(text, (gssize)at, (gssize)length);
        g_string_insert(text, (gssize)at, piece);
        break;
    default: g_string_insert(text, g_rand_int_range(rand, 0, (gint32)text->len + 1), copy); break;
    }
}

/* True where the damaged settings load. */
static bool try(const char *folder, const GString *text, guint64 seed, guint64 round)
{
    g_autofree char *path = g_build_filename(folder, "clinic.yaml", NULL);
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);

    folder_write(folder, "clinic.yaml", text->str, (gssize)text->len, 0600);
    g_autoptr(Tree) tree = tree_load(path, messages);
    g_autoptr(Faults) faults = tree != NULL ? tree_faults_new(tree) : NULL;
    g_autoptr(Clinic) clinic = tree != NULL ? clinic_read(tree_root(tree), faults) : NULL;
    if (tree != NULL) tree_faults(tree, faults, messages);
    if ((clinic != NULL) != (messages->len == 0))
        fail_msg("seed %" G_GUINT64_FORMAT " round %" G_GUINT64_FORMAT
                 ": neither loaded nor complained about:\n%s",
                 seed, round, text->str);
    for (guint i = 0; i < messages->len; i++) {
        Complaint parts = {0};
        if (!complaint_split(messages->pdata[i], &parts) ||
            strchr(messages->pdata[i], '\n') != NULL ||
            !g_utf8_validate(messages->pdata[i], -1, NULL))
            fail_msg("seed %" G_GUINT64_FORMAT " round %" G_GUINT64_FORMAT ": %s", seed, round,
                     (char *)messages->pdata[i]);
        complaint_clear(&parts);
    }
    return clinic != NULL;
}

static void damaged_settings_load_or_are_complained_about(void **state)
{
    guint64 seed = from_environment("OSIER_SEED", 20260302),
            rounds = from_environment("OSIER_ROUNDS", 1500);
    g_autoptr(GRand) rand = g_rand_new_with_seed((guint32)seed);
    g_autofree char *whole = settings_text(0, NULL);
    char *folder = folder_new();
    guint64 loaded = 0;

    (void)state;
    for (guint64 round = 0; round < rounds; round++) {
        g_autoptr(GString) text = g_string_new(whole);
        int times = g_rand_int_range(rand, 1, 5);
        for (int i = 0; i < times; i++)
            damage(text, rand);
        loaded += try(folder, text, seed, round);
    }
    print_message("seed %" G_GUINT64_FORMAT ": %" G_GUINT64_FORMAT " of %" G_GUINT64_FORMAT
                  " loaded\n",
                  seed, loaded, rounds);
    assert_true(loaded > 0 && loaded < rounds);
    folder_remove(folder);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(damaged_settings_load_or_are_complained_about),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
