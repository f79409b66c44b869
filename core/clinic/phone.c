/* SPDX-License-Identifier: Apache-2.0 */
/* ITU-T E.164 numbers out of what people write. A number without "+" or "00" is read as a national
 * one, unless it begins with the country code and is longer than ten digits: so gateways write
 * international numbers, and so some people do. */
#include "core/clinic/clinic.h"

enum { DIGITS_MIN = 8, DIGITS_MAX = 15, NATIONAL_DIGITS_MAX = 10, TEXT_BYTES_MAX = 64 };

/* What people put between digits: space, no-break spaces, dot, dash in its forms, brackets, slash.
 */
static bool is_gap(gunichar letter)
{
    return letter == '.' || letter == '-' || letter == '(' || letter == ')' || letter == '/' ||
           letter == 0x2212 || g_unichar_type(letter) == G_UNICODE_DASH_PUNCTUATION ||
           g_unichar_type(letter) == G_UNICODE_SPACE_SEPARATOR;
}

/* The digits alone; *plus tells of a leading "+". NULL and *why where there is anything else. */
static char *digits_of(const char *text, bool *plus, const char **why)
{
    GString *digits = g_string_new(NULL);

    *plus = false;
    for (const char *at = text; *at != '\0'; at = g_utf8_next_char(at)) {
        gunichar letter = g_utf8_get_char(at);
        /* "+44 (0)20": the bracketed zero is dialled inside the country only. */
        bool trunk_zero = g_str_has_prefix(at, "(0)") && *plus;
        if (trunk_zero) {
            at += strlen("(0)") - 1;
        } else if (letter == '+' && !*plus && digits->len == 0) {
            *plus = true;
        } else if (g_ascii_isdigit(*at)) {
            g_string_append_c(digits, *at);
        } else if (!is_gap(letter)) {
            *why =
                letter == '+' ? "has a + in its midst" : "holds what is no part of a phone number";
            g_string_free(digits, TRUE);
            return NULL;
        }
    }
    return g_string_free(digits, FALSE);
}

/* Numbers of Italy, San Marino and the Vatican keep their leading zero abroad (ITU-T E.164 national
 * plans; from memory). */
static bool keeps_zero(const char *country_code)
{
    return strcmp(country_code, "39") == 0 || strcmp(country_code, "378") == 0 ||
           strcmp(country_code, "379") == 0;
}

char *phone_e164(const char *text, const char *country_code, const char **why)
{
    const char *reason;
    bool plus;

    if (why == NULL) why = &reason;
    if (!g_utf8_validate(text, -1, NULL) || strlen(text) > TEXT_BYTES_MAX) {
        *why = "is no phone number";
        return NULL;
    }
    g_autofree char *digits = digits_of(text, &plus, why);
    if (digits == NULL) return NULL;
    const char *number = digits, *code = "";
    bool coded = country_code != NULL && *country_code != '\0';

    if (!plus && g_str_has_prefix(number, "00")) {
        plus = true;
        number += 2;
    } else if (!plus && coded && strlen(number) > NATIONAL_DIGITS_MAX &&
               g_str_has_prefix(number, country_code)) {
        plus = true;
    } else if (!plus && coded) {
        code = country_code;
        number += *number == '0' && !keeps_zero(country_code);
    }
    if (!plus && *code == '\0') {
        *why = "has no country code; begin with + and the country's digits";
        return NULL;
    }
    if (*digits == '\0' || (plus && *number == '0')) {
        *why = *digits == '\0' ? "has no digits" : "has a country code that begins with 0";
        return NULL;
    }
    size_t length = strlen(code) + strlen(number);
    if (length < DIGITS_MIN || length > DIGITS_MAX) {
        *why = length < DIGITS_MIN
                   ? "is too short for a phone number (at least 8 digits with the country code)"
                   : "is too long for a phone number (at most 15 digits with the country code)";
        return NULL;
    }
    return g_strconcat("+", code, number, NULL);
}
