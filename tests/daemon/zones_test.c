/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/zones.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

static void names_of_the_database(void **state)
{
    static const char *const KNOWN[] = {"Europe/London", "America/Argentina/Buenos_Aires",
                                        "America/Port-au-Prince", "Etc/GMT+1", "UTC"};
    g_autoptr(Zones) zones = zones_new();

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(KNOWN); i++) {
        GTimeZone *zone = zones_get(zones, KNOWN[i]);

        assert_non_null(zone);
        assert_string_equal(g_time_zone_get_identifier(zone), KNOWN[i]);
        assert_ptr_equal(zones_get(zones, KNOWN[i]), zone);
    }
}

static void what_is_no_name(void **state)
{
    static const char *const UNKNOWN[] = {"",
                                          "/etc/localtime",
                                          "../../etc/passwd",
                                          "Europe/../Europe/London",
                                          "Europe",
                                          "Europe/",
                                          "europe/london",
                                          "Europe/Londinium",
                                          "+02:00",
                                          "Z",
                                          "EST5",
                                          "XYZ5",
                                          "tzdata.zi",
                                          "leapseconds",
                                          "posixrules",
                                          "localtime",
                                          "right/Europe/London",
                                          "Europe/London ",
                                          "Europe/L\xc3\xb6ndon",
                                          ":Europe/London"};
    g_autoptr(Zones) zones = zones_new();
    g_autofree char *long_name = g_strnfill(5000, 'A');

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(UNKNOWN); i++)
        if (zones_get(zones, UNKNOWN[i]) != NULL) fail_msg("taken: %s", UNKNOWN[i]);
    assert_null(zones_get(zones, long_name));
}

static void a_full_cache_starts_again(void **state)
{
    g_autoptr(Zones) zones = zones_new();
    g_autoptr(GTimeZone) kept = g_time_zone_ref(zones_get(zones, "Europe/London"));
    g_autofree char *name = NULL;

    (void)state;
    for (int round = 0; round < 10; round++)
        for (int hours = 0; hours <= 12; hours++) {
            g_free(name);
            name = g_strdup_printf("Etc/GMT%c%d", round % 2 == 0 ? '+' : '-', hours);
            assert_non_null(zones_get(zones, name));
        }
    assert_string_equal(g_time_zone_get_identifier(kept), "Europe/London");
    assert_non_null(zones_get(zones, "Europe/London"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(names_of_the_database),
        cmocka_unit_test(what_is_no_name),
        cmocka_unit_test(a_full_cache_starts_again),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
