/* SPDX-License-Identifier: Apache-2.0 */
/* The head of a file that clinics pass on. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "adapters/files/passed.h"

static void hand(PassedHead *head, const char *from)
{
    g_ptr_array_add(head->from, g_strdup(from));
}

/* FIPS 180-2, appendix B.1: SHA-256 of "abc". */
static void the_checksum_is_sha_256(void **state)
{
    g_autofree char *sum = passed_checksum("abc");

    (void)state;
    assert_string_equal(sum, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
}

static void what_is_written_is_read(void **state)
{
    PassedHead out = {.what = (char *)"programme a",
                      .from = g_ptr_array_new_with_free_func(g_free),
                      .note = (char *)"two\nlines"};
    PassedHead in;
    const char *body;

    (void)state;
    hand(&out, "Withy Lane, 2026-03-02, M. Adeyemi");
    hand(&out, "Saltmarsh Lane, 2026-03-03");
    g_autofree char *text = passed_write(&out, "key: a\n# ---- no end\n");
    passed_read(text, &in, &body);
    assert_string_equal(body, "key: a\n# ---- no end\n");
    assert_string_equal(in.what, "programme a");
    assert_int_equal(in.from->len, 2);
    assert_string_equal(in.from->pdata[0], "Withy Lane, 2026-03-02, M. Adeyemi");
    assert_string_equal(in.note, "two lines");
    assert_false(in.changed);
    passed_clear(&in);
    g_ptr_array_unref(out.from);
}

static void every_change_of_the_body_shows(void **state)
{
    PassedHead out = {.what = (char *)"language es",
                      .from = g_ptr_array_new_with_free_func(g_free)};
    static const char BODY[] = "language: es\ntexts: {}\n";
    g_autofree char *text = passed_write(&out, BODY);
    size_t head = strlen(text) - strlen(BODY);

    (void)state;
    for (size_t i = 0; i < strlen(BODY); i++) {
        g_autofree char *spoilt = g_strdup(text);
        PassedHead in;
        const char *body;
        spoilt[head + i] ^= 1;
        passed_read(spoilt, &in, &body);
        assert_true(in.changed);
        passed_clear(&in);
    }
    g_ptr_array_unref(out.from);
}

/* What is no whole head is none; nothing is read past its end. */
static void odd_heads_do_no_harm(void **state)
{
    static const char *const ODD[] = {
        "",
        "# osier passes on: ",
        "# osier passes on: x\n# from: y\n",
        "# osier passes on: x\nkey: a\n# ----\n",
        "# osier passes on: x\n# ----",
        "# a comment of one's own\nkey: a\n",
    };
    PassedHead in;
    const char *body;

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(ODD); i++) {
        passed_read(ODD[i], &in, &body);
        assert_true(in.what == NULL ? body == ODD[i] : *body == '\0');
        passed_clear(&in);
    }
    GString *long_head = g_string_new("# osier passes on: x\n");
    for (int i = 0; i < 1000; i++)
        g_string_append(long_head, "# from: y\n");
    g_string_append(long_head, "# ----\nkey: a\n");
    passed_read(long_head->str, &in, &body);
    assert_null(in.what);
    passed_clear(&in);
    g_string_free(long_head, TRUE);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_checksum_is_sha_256),
        cmocka_unit_test(what_is_written_is_read),
        cmocka_unit_test(every_change_of_the_body_shows),
        cmocka_unit_test(odd_heads_do_no_harm),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
