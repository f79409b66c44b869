/* SPDX-License-Identifier: Apache-2.0 */
/* Sealed files: every size around a chunk comes back as it was; every single changed, missing or added byte is noticed. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <glib.h>
#include <glib/gstdio.h>
#include <string.h>
#include <sys/stat.h>

#include "adapters/seal/seal.h"
#include "tests/support/store_bench.h"

typedef struct {
    char *folder, *plain, *sealed, *opened;
    char *public_key, *secret_key;
} Desk;

static Desk desk_open(void)
{
    Desk desk = {.folder = bench_folder()};

    desk.plain = g_build_filename(desk.folder, "plain", NULL);
    desk.sealed = g_build_filename(desk.folder, "sealed", NULL);
    desk.opened = g_build_filename(desk.folder, "opened", NULL);
    seal_keys(&desk.public_key, &desk.secret_key);
    return desk;
}

static void desk_close(Desk *desk)
{
    bench_remove(desk->folder);
    g_free(desk->folder);
    g_free(desk->plain);
    g_free(desk->sealed);
    g_free(desk->opened);
    g_free(desk->public_key);
    g_free(desk->secret_key);
}

static void write_bytes(const char *path, const char *bytes, size_t length)
{
    assert_true(g_file_set_contents(path, bytes, (gssize)length, NULL));
}

static void is_null(char *problem)
{
    if (problem != NULL) fail_msg("%s", problem);
}

static void problem_is(char *problem, const char *end)
{
    assert_non_null(problem);
    if (!g_str_has_suffix(problem, end)) fail_msg("%s, not: %s", problem, end);
    g_free(problem);
}

static void what_was_sealed_comes_back(void **state)
{
    static const size_t SIZES[] = {0, 1, 65535, 65536, 65537, 131072, 200000};
    Desk desk = desk_open();

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(SIZES); i++) {
        g_autofree char *bytes = g_malloc0(SIZES[i] + 1);
        g_autofree char *back = NULL;
        gsize length;
        struct stat about;

        for (size_t k = 0; k < SIZES[i]; k++)
            bytes[k] = (char)(k * 31 + k / 65536);
        write_bytes(desk.plain, bytes, SIZES[i]);
        assert_false(seal_is_sealed(desk.plain));
        is_null(seal_file(desk.plain, desk.sealed, desk.public_key));
        assert_true(seal_is_sealed(desk.sealed));
        is_null(seal_open_file(desk.sealed, desk.opened, desk.secret_key));
        assert_true(g_file_get_contents(desk.opened, &back, &length, NULL));
        assert_int_equal(length, SIZES[i]);
        assert_memory_equal(back, bytes, SIZES[i]);
        assert_int_equal(stat(desk.opened, &about), 0);
        assert_int_equal(about.st_mode & 0777, 0600);
        g_unlink(desk.sealed);
        g_unlink(desk.opened);
    }
    desk_close(&desk);
}

static void a_key_of_the_wrong_kind_opens_nothing(void **state)
{
    Desk desk = desk_open();
    g_autofree char *other_public = NULL;
    g_autofree char *other_secret = NULL;

    (void)state;
    seal_keys(&other_public, &other_secret);
    assert_true(seal_is_key(desk.public_key));
    assert_false(seal_is_key(desk.secret_key));
    assert_false(seal_is_key("osier-seal-short"));
    assert_false(seal_is_key(NULL));
    write_bytes(desk.plain, "of clients", 10);
    problem_is(seal_file(desk.plain, desk.sealed, "osier-seal-?"),
               "is no key to seal to; it begins with osier-seal-");
    is_null(seal_file(desk.plain, desk.sealed, desk.public_key));
    problem_is(seal_open_file(desk.sealed, desk.opened, other_secret),
               "was sealed to another key, or is changed");
    problem_is(seal_open_file(desk.sealed, desk.opened, desk.public_key),
               "that is no key to open with; it begins with osier-open-");
    problem_is(seal_open_file(desk.plain, desk.opened, desk.secret_key), "is not a sealed file");
    assert_false(g_file_test(desk.opened, G_FILE_TEST_EXISTS));
    desk_close(&desk);
}

static void every_changed_byte_is_noticed(void **state)
{
    Desk desk = desk_open();
    g_autofree char *bytes = NULL;
    gsize length;

    (void)state;
    write_bytes(desk.plain, "a few words of a clinic's record", 32);
    is_null(seal_file(desk.plain, desk.sealed, desk.public_key));
    assert_true(g_file_get_contents(desk.sealed, &bytes, &length, NULL));
    for (gsize i = 0; i < length; i++) {
        bytes[i] ^= 1;
        write_bytes(desk.sealed, bytes, length);
        char *problem = seal_open_file(desk.sealed, desk.opened, desk.secret_key);
        if (problem == NULL) fail_msg("byte %zu was changed and nobody noticed", (size_t)i);
        g_free(problem);
        bytes[i] ^= 1;
    }
    for (gsize i = 0; i < length; i++) {
        write_bytes(desk.sealed, bytes, i);
        char *problem = seal_open_file(desk.sealed, desk.opened, desk.secret_key);
        if (problem == NULL) fail_msg("cut at byte %zu and nobody noticed", (size_t)i);
        g_free(problem);
    }
    assert_false(g_file_test(desk.opened, G_FILE_TEST_EXISTS));
    desk_close(&desk);
}

static void chunks_cannot_be_left_out_or_added(void **state)
{
    Desk desk = desk_open();
    g_autofree char *bytes = g_malloc0(200000);
    g_autofree char *sealed = NULL;
    gsize length;

    (void)state;
    write_bytes(desk.plain, bytes, 200000);
    is_null(seal_file(desk.plain, desk.sealed, desk.public_key));
    assert_true(g_file_get_contents(desk.sealed, &sealed, &length, NULL));
    const gsize chunk = 65536 + 17;
    gsize rest = length % chunk;
    /* The last chunk is left out; then one in the middle; then something follows the end. */
    write_bytes(desk.sealed, sealed, length - (length - rest) % chunk - 3000);
    problem_is(seal_open_file(desk.sealed, desk.opened, desk.secret_key), "is changed or cut off");
    g_autofree char *longer = g_malloc(length + 1);
    memcpy(longer, sealed, length);
    longer[length] = 0;
    write_bytes(desk.sealed, longer, length + 1);
    char *problem = seal_open_file(desk.sealed, desk.opened, desk.secret_key);
    assert_non_null(problem);
    g_free(problem);
    assert_false(g_file_test(desk.opened, G_FILE_TEST_EXISTS));
    desk_close(&desk);
}

static void what_is_there_is_not_written_over(void **state)
{
    Desk desk = desk_open();

    (void)state;
    write_bytes(desk.plain, "x", 1);
    write_bytes(desk.sealed, "mine", 4);
    problem_is(seal_file(desk.plain, desk.sealed, desk.public_key), "cannot be made: File exists");
    problem_is(seal_file("/nonexistent", desk.opened, desk.public_key),
               "cannot be read: No such file or directory");
    desk_close(&desk);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_was_sealed_comes_back),
        cmocka_unit_test(a_key_of_the_wrong_kind_opens_nothing),
        cmocka_unit_test(every_changed_byte_is_noticed),
        cmocka_unit_test(chunks_cannot_be_left_out_or_added),
        cmocka_unit_test(what_is_there_is_not_written_over),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
