/* SPDX-License-Identifier: Apache-2.0 */
/* Numbers are of the ranges that regulators keep free for drama. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "core/clinic/address.h"
#include "core/clinic/clinic.h"

static void reads_as(const char *text, const char *country_code, const char *expected)
{
    const char *why = NULL;
    g_autofree char *number = phone_e164(text, country_code, &why);

    if (g_strcmp0(number, expected) != 0)
        fail_msg("'%s' reads as %s (%s), not as %s", text, number, why, expected);
}

static void refused(const char *text, const char *country_code, const char *because)
{
    const char *why = NULL;
    g_autofree char *number = phone_e164(text, country_code, &why);

    if (number != NULL) fail_msg("'%s' reads as %s", text, number);
    if (strstr(why, because) == NULL) fail_msg("'%s': %s", text, why);
}

static void written_as_people_write(void **state)
{
    (void)state;
    reads_as("+442079460001", "44", "+442079460001");
    reads_as(" +44 20 7946 0001 ", "44", "+442079460001");
    reads_as("+44 (0)20 7946-0001", "44", "+442079460001");
    reads_as("0044 20 7946 0001", "44", "+442079460001");
    reads_as("020 7946 0001", "44", "+442079460001");
    reads_as("(020) 7946.0001", "44", "+442079460001");
    reads_as("07700 900123", "44", "+447700900123");
    reads_as("020\u00A07946\u20130001", "44", "+442079460001");
    reads_as("202-555-0123", "1", "+12025550123");
    reads_as("1-202-555-0123", "1", "+12025550123");
}

static void gateways_leave_the_plus_out(void **state)
{
    (void)state;
    reads_as("447700900123", "44", "+447700900123");
    reads_as("12025550123", "1", "+12025550123");
}

static void italian_zero_stays(void **state)
{
    (void)state;
    reads_as("06 5550 1234", "39", "+390655501234");
}

/* What is dialled before a number at home, from the countries' plans as the ITU-T publishes them (E.164 national numbering plans,
 * list of dialling procedures). */
static void what_is_dialled_at_home_goes(void **state)
{
    (void)state;
    reads_as("8 (495) 555-01-23", "7", "+74955550123");
    reads_as("800 555-01-23", "7", "+78005550123"); /* the 8 is the number's own */
    reads_as("8 800 555-01-23", "7", "+78005550123");
    reads_as("7 495 555 01 23", "7", "+74955550123");
    reads_as("06 30 555 0123", "36", "+36305550123");
    reads_as("30 555 0123", "36", "+36305550123");
    reads_as("06 1 555 0123", "36", "+3615550123");
    reads_as("8 029 555-01-23", "375", "+375295550123");
    reads_as("8 612 55501", "370", "+37061255501");
    reads_as("0 612 55501", "370", "+37061255501");
    reads_as("1 202 555 0123", "1", "+12025550123");
    reads_as("01 23 45 67 89", "33", "+33123456789");
    reads_as("912 345 678", "34", "+34912345678");
    reads_as("01 23 45 67 89", "225", "+2250123456789"); /* this zero is the number's own */
    reads_as("+44 020 7946 0001", "1", "+442079460001"); /* and this one is not */
}

/* Numbers of the country that look as if they began with its code. */
static void an_area_may_be_named_like_the_country(void **state)
{
    (void)state;
    reads_as("55 99123-4567", "55", "+5555991234567");
    reads_as("55 55 99123-4567", "55", "+5555991234567");
    reads_as("4512 3456", "45", "+4545123456");
    reads_as("45 1234 5678", "45", "+4512345678");
    refused("9592123456", "95", "with or without its country code");
    reads_as("09592123456", "95", "+959592123456");
    reads_as("+959592123456", "95", "+959592123456");
}

static void wrong_lengths_are_refused(void **state)
{
    (void)state;
    refused("020 7946 00", "44", "too short for a number of its country");
    refused("020 7946 00012", "44", "too long for a number of its country");
    refused("+44 20 7946 00", NULL, "too short for a number of its country");
    refused("+1 202 555 012", NULL, "too short for a number of its country");
    refused("202 555 01234", "1", "too long for a number of its country");
    refused("+33 1 23 45 67 8", "44", "too short for a number of its country");
    refused("8 495 555-01", "7", "too short for a number of its country");
    refused("0912 345 678", "34", "too long for a number of its country");
    reads_as("+49 30 123456", "44", "+4930123456"); /* there they differ too much to say */
}

static void no_numbers(void **state)
{
    (void)state;
    refused("", "44", "no digits");
    refused("+", "44", "no digits");
    refused("Clinic", "44", "no part of a phone number");
    refused("+44 20 7946 0001 x12", "44", "no part of a phone number");
    refused("+44+2079460001", "44", "in its midst");
    refused("020 7946 0001", NULL, "no country code");
    refused("+0442079460001", "44", "begins with 0");
    refused("999", "44", "too short");
    refused("+99912345678901234", "44", "too long");
    refused("\xFF\xFE", "44", "no phone number");
    refused("+\xD9\xA4\xD9\xA4", "44", "no part of a phone number"); /* Arabic-Indic digits */
}

static void mail_addresses(void **state)
{
    static const char *const FINE[] = {"desk@clinic.example", "a.b+c@x-y.example",
                                       "o'hara@clinic.example", "d\xC3\xA9sk@clinic.example",
                                       "a@localhost"};
    static const char *const WRONG[] = {
        "",         "desk",          "desk@",         "@clinic.example", "a@b@clinic.example",
        "a b@c.de", "a@clinic",      "a@-c.example",  "a..b@c.example",  ".a@c.example",
        "a@c..de",  "a@c.example\n", "a,b@c.example", "\xFF@c.example"};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(FINE); i++)
        if (!mail_address_valid(FINE[i], NULL)) fail_msg("%s", FINE[i]);
    for (size_t i = 0; i < G_N_ELEMENTS(WRONG); i++) {
        const char *why = NULL;
        if (mail_address_valid(WRONG[i], &why) || why == NULL) fail_msg("'%s'", WRONG[i]);
    }
    g_autofree char *named = mail_address_of("Saltmarsh Lane <sessions@clinic.example>", NULL);
    assert_string_equal(named, "sessions@clinic.example");
    assert_null(mail_address_of("Saltmarsh <sessions@clinic.example", NULL));
    assert_null(mail_address_of("<>", NULL));
    assert_null(mail_address_of("<", NULL));
}

static void listeners(void **state)
{
    static const char *const WRONG[] = {
        "",        "8750",        "127.0.0.1", "127.0.0.1:0", "127.0.0.1:65536",
        ":8750",   "clinic:8750", "::1:8750",  "[::1]",       "127.0.0.1:8750x",
        "[]:8750", "127.0.0.1:",  "[::1:8750", "1.2.3:80",    "127.0.0.1:99999999999"};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(WRONG); i++)
        if (listen_valid(WRONG[i])) fail_msg("%s", WRONG[i]);
    assert_true(listen_valid("127.0.0.1:8750") && listen_loopback("127.0.0.1:8750"));
    assert_true(listen_valid("[::1]:1") && listen_loopback("[::1]:1"));
    assert_true(listen_loopback("localhost:80") && listen_loopback("127.9.9.9:80"));
    assert_true(listen_valid("0.0.0.0:65535") && !listen_loopback("0.0.0.0:65535"));
    assert_true(listen_valid("[::]:80") && !listen_loopback("[::]:80"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(written_as_people_write),
        cmocka_unit_test(gateways_leave_the_plus_out),
        cmocka_unit_test(italian_zero_stays),
        cmocka_unit_test(what_is_dialled_at_home_goes),
        cmocka_unit_test(an_area_may_be_named_like_the_country),
        cmocka_unit_test(wrong_lengths_are_refused),
        cmocka_unit_test(no_numbers),
        cmocka_unit_test(mail_addresses),
        cmocka_unit_test(listeners),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
