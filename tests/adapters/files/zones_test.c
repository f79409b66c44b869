/* SPDX-License-Identifier: Apache-2.0 */
/* The version of a zone database, from the two files in which it stands. */
#include "adapters/files/zones.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <glib/gstdio.h>
#include <stdlib.h>
#include <string.h>
#include <utime.h>

#include "tests/support/folder.h"

#define IN_2025 1756065323  /* 2025-08-24 */
#define END_2024 1735603200 /* 2024-12-31 */

static void put(const char *folder, const char *name, const char *text, time_t dated)
{
    g_autofree char *path = g_build_filename(folder, name, NULL);
    const struct utimbuf times = {dated, dated};

    folder_write(folder, name, text, -1, 0600);
    assert_int_equal(utime(path, &times), 0);
}

static void a_version_is_read_and_dated(void **state)
{
    char *folder = folder_new();
    int64_t released = 0;

    (void)state;
    put(folder, "tzdata.zi", "# version 2025b\n# ddeps\nR d 1916 o -\n", IN_2025);
    g_autofree char *first = zone_database(folder, &released);
    assert_string_equal(first, "2025b");
    assert_int_equal(released, IN_2025 * INT64_C(1000));
    /* Packed anew a year later: it is no younger for that. */
    put(folder, "tzdata.zi", "# version 2024b\n", IN_2025);
    g_autofree char *second = zone_database(folder, &released);
    assert_string_equal(second, "2024b");
    assert_int_equal(released, END_2024 * INT64_C(1000));
    folder_remove(folder);
}

static void the_other_file_does_as_well(void **state)
{
    char *folder = folder_new();
    int64_t released = 0;

    (void)state;
    put(folder, "+VERSION", "2024a\n", IN_2025);
    g_autofree char *version = zone_database(folder, &released);
    assert_string_equal(version, "2024a");
    folder_remove(folder);
}

static void what_is_no_version_is_none(void **state)
{
    static const char *const TEXTS[] = {"",
                                        "# version",
                                        "# version unknown\n",
                                        "# version 25b\n",
                                        "# version 2025\n",
                                        "# version 2025bcd\n",
                                        "# version 2025b; rm\n",
                                        "\xff\xfe\n"};
    char *folder = folder_new();
    int64_t released = 0;

    (void)state;
    assert_null(zone_database(folder, &released));
    for (size_t i = 0; i < G_N_ELEMENTS(TEXTS); i++) {
        put(folder, "tzdata.zi", TEXTS[i], IN_2025);
        assert_null(zone_database(folder, &released));
    }
    folder_remove(folder);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_version_is_read_and_dated),
        cmocka_unit_test(the_other_file_does_as_well),
        cmocka_unit_test(what_is_no_version_is_none),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
