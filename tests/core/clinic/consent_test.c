/* SPDX-License-Identifier: Apache-2.0 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "core/clinic/consent.h"

static void is(ConsentState state, const char *text, const char *part, const char *because)
{
    g_autofree char *value = NULL;
    const char *why = "";
    Day today;

    assert_true(day_parse("2026-03-02", &today));
    if (consent_state(text, today, &value, &why) != state) fail_msg("'%s': %s", text, why);
    if (state == CONSENT_SERVES) return;
    assert_string_equal(value, part);
    if (strstr(why, because) == NULL) fail_msg("'%s': %s", text, why);
}

static void serves(const char *text)
{
    is(CONSENT_SERVES, text, NULL, NULL);
}

static void how_who_and_when_serves(void **state)
{
    (void)state;
    serves("signed form, R. Okafor, 2026-03-01");
    serves("by word on 2026-03-02, R. Okafor.");
    serves("signed form 12, R. Okafor, 2025-12-31.");
    serves("rang from 020 7946 0001 (07700900123), P. Lowther, 2026-02-28");
    serves("rang from 20790001, P. Lowther, 2026-02-28");
    serves("signed in Auckland, where it is tomorrow, 2026-03-03");
}

static void a_consent_without_its_date_is_left_open(void **state)
{
    (void)state;
    is(CONSENT_OPEN, "signed form, R. Okafor", "signed form, R. Okafor", "has no date");
    is(CONSENT_OPEN, "yes", "yes", "has no date");
    is(CONSENT_OPEN, "in March, R. Okafor", "in March, R. Okafor", "has no date");
}

static void digits_at_the_end_must_be_a_date(void **state)
{
    (void)state;
    is(CONSENT_WRONG, "signed form, R. Okafor, 2026-13-01", "2026-13-01", "is no date");
    is(CONSENT_WRONG, "signed form, R. Okafor, 01/03/2026", "01/03/2026", "is no date");
    is(CONSENT_WRONG, "signed form, R. Okafor, 1.3.26", "1.3.26", "is no date");
    is(CONSENT_WRONG, "signed form, R. Okafor, 20260301", "20260301", "is no date");
    is(CONSENT_WRONG, "signed form, R. Okafor, 2026-02-29", "2026-02-29", "is no date");
}

static void nobody_has_consented_in_time_to_come(void **state)
{
    const char *both = "2025-03-01 by word, form 2027-03-01";

    (void)state;
    is(CONSENT_OPEN, "form, R. Okafor, 2026-03-04", "form, R. Okafor, 2026-03-04", "lies ahead");
    is(CONSENT_OPEN, both, both, "lies ahead");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(how_who_and_when_serves),
        cmocka_unit_test(a_consent_without_its_date_is_left_open),
        cmocka_unit_test(digits_at_the_end_must_be_a_date),
        cmocka_unit_test(nobody_has_consented_in_time_to_come),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
