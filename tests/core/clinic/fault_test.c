/* SPDX-License-Identifier: Apache-2.0 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "core/clinic/fault.h"

static const Fault *only(const Faults *faults)
{
    assert_int_equal(faults->items->len, 1);
    return faults->items->pdata[0];
}

static void misspelt_key_names_its_neighbour(void **state)
{
    static const char *const KNOWN[] = {"phone", "after_hours_phone", "emergency", "zone", "to",
                                        NULL};

    (void)state;
    assert_string_equal(fault_nearest("phnoe", KNOWN), "phone");
    assert_string_equal(fault_nearest("emergancy", KNOWN), "emergency");
    assert_string_equal(fault_nearest("after_hours", KNOWN), "after_hours_phone");
    assert_string_equal(fault_nearest("zones", KNOWN), "zone");
    assert_null(fault_nearest("fax", KNOWN));
    assert_null(fault_nearest("ab", KNOWN));
    assert_null(fault_nearest("", KNOWN));
}

static void key_longer_than_any_is_far_from_all(void **state)
{
    static const char *const KNOWN[] = {"phone", NULL};
    g_autofree char *key = g_strnfill(5000, 'p');

    (void)state;
    assert_null(fault_nearest(key, KNOWN));
}

static void unknown_keys_are_all_told(void **state)
{
    static const char *const KNOWN[] = {"name", "zone", NULL};
    g_autoptr(Faults) faults = faults_new();
    json_t *object = json_pack("{s:i, s:i, s:i}", "nmae", 1, "zone", 2, "a/b~c", 3);

    (void)state;
    fault_unknown_keys(faults, "/clinic", object, KNOWN);
    assert_int_equal(faults->items->len, 2);
    const Fault *first = faults->items->pdata[0], *second = faults->items->pdata[1];
    assert_true(first->at_key);
    assert_string_equal(first->pointer, "/clinic/nmae");
    assert_non_null(strstr(first->why, "did you mean name?"));
    assert_string_equal(second->pointer, "/clinic/a~1b~0c"); /* RFC 6901 section 3 */
    assert_non_null(strstr(second->why, "known here: name, zone"));
    json_decref(object);
}

/* A language pack has hundreds: of those, the ones that begin alike. */
static void of_very_many_known_keys_those_alike_are_told(void **state)
{
    g_autoptr(GPtrArray) known = g_ptr_array_new_with_free_func(g_free);
    g_autoptr(Faults) faults = faults_new();
    json_t *object = json_pack("{s:i, s:i}", "digest-column-felt", 1, "nothing-alike", 2);

    (void)state;
    for (int i = 0; i < 100; i++)
        g_ptr_array_add(known, g_strdup_printf("word-%03d", i));
    g_ptr_array_add(known, g_strdup("digest-heading"));
    g_ptr_array_add(known, g_strdup("digest-column-client"));
    g_ptr_array_add(known, NULL);
    fault_unknown_keys(faults, "/texts", object, (const char *const *)known->pdata);
    const Fault *first = faults->items->pdata[0], *second = faults->items->pdata[1];
    assert_string_equal(first->why,
                        "unknown key; known here: digest-heading, digest-column-client");
    assert_string_equal(second->why, "unknown key, and like none that is known here");
    json_decref(object);
}

static void long_and_odd_values_are_cut_and_made_printable(void **state)
{
    g_autofree char *wide = g_strnfill(79, 'x');
    g_autofree char *text = g_strconcat(wide, "\xC3\xA9\xC3\xA9", NULL);
    g_autofree char *cut = fault_quote(text);
    g_autofree char *odd = fault_quote("a\nb\x1b[31m\xFF");
    g_autofree char *colon = fault_quote("a: b:  c");

    (void)state;
    assert_true(g_str_has_suffix(cut, "..."));
    assert_true(strlen(cut) <= 83);
    assert_true(g_utf8_validate(cut, -1, NULL));
    assert_non_null(strstr(odd, "a\\nb?[31m"));
    assert_string_equal(colon, "a:b:c");
}

static void number_stands_for_text_and_lives_with_the_tree(void **state)
{
    g_autoptr(Faults) faults = faults_new();
    json_t *object = json_pack("{s:i}", "emergency", 999);
    const char *text = fault_text(faults, "", object, "emergency", true);

    (void)state;
    faults_free(g_steal_pointer(&faults));
    assert_string_equal(text, "999");
    json_decref(object);
}

static void wrong_types_are_told_with_their_value(void **state)
{
    json_t *object = json_pack("{s:b, s:s, s:n, s:[], s:f}", "flag", 1, "count", "7", "empty",
                               "list", "share", 2.5);

    (void)state;
    {
        g_autoptr(Faults) faults = faults_new();
        assert_null(fault_text(faults, "", object, "flag", false));
        assert_string_equal(only(faults)->value, "true");
        assert_non_null(strstr(only(faults)->why, "quotes"));
    }
    {
        g_autoptr(Faults) faults = faults_new();
        assert_int_equal(fault_whole(faults, "", object, "count", 3, 1, 9), 3);
        assert_string_equal(only(faults)->pointer, "/count");
    }
    {
        g_autoptr(Faults) faults = faults_new();
        assert_int_equal(fault_whole(faults, "", object, "share", 3, 1, 9), 3);
        assert_string_equal(only(faults)->value, "2.5");
    }
    {
        g_autoptr(Faults) faults = faults_new();
        assert_null(fault_text(faults, "", object, "empty", true));
        assert_non_null(strstr(only(faults)->why, "no value"));
    }
    {
        g_autoptr(Faults) faults = faults_new();
        assert_null(fault_object(faults, "", object, "list", true));
        assert_non_null(strstr(only(faults)->why, "group of keys"));
    }
    {
        g_autoptr(Faults) faults = faults_new();
        assert_true(fault_bool(faults, "", object, "absent", true));
        assert_int_equal(faults->items->len, 0);
    }
    json_decref(object);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(misspelt_key_names_its_neighbour),
        cmocka_unit_test(key_longer_than_any_is_far_from_all),
        cmocka_unit_test(unknown_keys_are_all_told),
        cmocka_unit_test(of_very_many_known_keys_those_alike_are_told),
        cmocka_unit_test(long_and_odd_values_are_cut_and_made_printable),
        cmocka_unit_test(number_stands_for_text_and_lives_with_the_tree),
        cmocka_unit_test(wrong_types_are_told_with_their_value),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
