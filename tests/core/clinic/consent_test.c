/* SPDX-License-Identifier: Apache-2.0 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "core/clinic/consent.h"

static const char *fault_of(const char *text, char **value)
{
    Day today;

    assert_true(day_parse("2026-03-02", &today));
    return consent_fault(text, today, value);
}

static void serves(const char *text)
{
    g_autofree char *value = NULL;
    const char *why = fault_of(text, &value);

    if (why != NULL) fail_msg("'%s': %s: %s", text, value, why);
}

static void fails(const char *text, const char *part, const char *because)
{
    g_autofree char *value = NULL;
    const char *why = fault_of(text, &value);

    if (why == NULL) fail_msg("'%s' is taken", text);
    assert_string_equal(value, part);
    if (strstr(why, because) == NULL) fail_msg("'%s': %s", text, why);
}

static void how_who_and_when_serves(void **state)
{
    (void)state;
    serves("signed form, R. Okafor, 2026-03-01");
    serves("by word on 2026-03-02, R. Okafor.");
    serves("signed form 12, R. Okafor, 2025-12-31.");
    serves("rang from 020 7946 0001 (07700900123), P. Lowther, 2026-02-28");
    serves("signed in Auckland, where it is tomorrow, 2026-03-03");
}

static void a_consent_without_its_date_is_refused(void **state)
{
    (void)state;
    fails("signed form, R. Okafor", "signed form, R. Okafor", "has no date");
    fails("yes", "yes", "has no date");
    fails("signed form, 3", "signed form, 3", "has no date");
}

static void a_date_of_another_form_is_named(void **state)
{
    (void)state;
    fails("signed form, R. Okafor, 2026-13-01", "2026-13-01", "is no date");
    fails("signed form, R. Okafor, 01/03/2026", "01/03/2026", "is no date");
    fails("signed form, R. Okafor, 1.3.26", "1.3.26", "is no date");
    fails("signed form, R. Okafor, 20260301", "20260301", "is no date");
    fails("signed form, R. Okafor, 2026-02-29", "2026-02-29", "is no date");
}

static void nobody_has_consented_in_time_to_come(void **state)
{
    (void)state;
    fails("signed form, R. Okafor, 2026-03-04", "2026-03-04", "lies ahead");
    fails("signed form, R. Okafor, 2062-03-01", "2062-03-01", "lies ahead");
    fails("2025-03-01 by word, form 2027-03-01", "2027-03-01", "lies ahead");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(how_who_and_when_serves),
        cmocka_unit_test(a_consent_without_its_date_is_refused),
        cmocka_unit_test(a_date_of_another_form_is_named),
        cmocka_unit_test(nobody_has_consented_in_time_to_come),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
