/* SPDX-License-Identifier: Apache-2.0 */
/* ITU-T E.164 numbers out of what people write. A number without "+" or "00" is read as a national
 * one, unless it begins with the country code and has more digits than national ones have: so gateways write
 * international numbers, and so some people do. */
#include "core/clinic/clinic.h"
#include "core/clinic/dialling.h"

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

/* The number without what is dialled before it at home only. A trunk prefix of 0 never begins a number; one of another digit
 * may, so it goes only where enough is left. */
static const char *without_trunk(const char *number, const Dialling *dialling)
{
    g_auto(GStrv) trunks = g_strsplit(dialling->trunks, " ", -1);

    for (int i = 0; trunks[i] != NULL; i++) {
        size_t length = strlen(trunks[i]);
        bool zero = strcmp(trunks[i], "0") == 0;
        if (length == 0 || !g_str_has_prefix(number, trunks[i])) continue;
        if (zero || (int)(strlen(number) - length) >= dialling->digits_min) return number + length;
    }
    return number;
}

static int national_max(const Dialling *dialling)
{
    return dialling->digits_max > 0 ? dialling->digits_max : NATIONAL_DIGITS_MAX;
}

static bool fits(size_t digits, const Dialling *dialling)
{
    return (int)digits >= dialling->digits_min && (int)digits <= dialling->digits_max;
}

/* Nothing says whether the digits at its beginning are the country's code or the number's own. */
static bool is_both(const char *digits, const char *country_code, const Dialling *dialling)
{
    size_t code = strlen(country_code), length = strlen(digits);

    return g_str_has_prefix(digits, country_code) && fits(length, dialling) &&
           fits(length - code, dialling);
}

/* Why no number of that country has so many digits, or NULL. */
static const char *length_fault(int code_digits, int digits, const Dialling *dialling)
{
    if (code_digits + digits < DIGITS_MIN)
        return "is too short for a phone number (at least 8 digits with the country code)";
    if (code_digits + digits > DIGITS_MAX)
        return "is too long for a phone number (at most 15 digits with the country code)";
    if (dialling->digits_max == 0) return NULL;
    if (digits < dialling->digits_min)
        return "is too short for a number of its country; a digit may be missing";
    if (digits > dialling->digits_max)
        return "is too long for a number of its country; a digit may be too many";
    return NULL;
}

/* "+", the code and the number after it, or NULL and *why. */
static char *whole_number(const char *code, size_t code_length, const char *number,
                          const Dialling *dialling, const char **why)
{
    const char *national = without_trunk(number, dialling);

    *why = length_fault((int)code_length, (int)strlen(national), dialling);
    return *why == NULL ? g_strdup_printf("+%.*s%s", (int)code_length, code, national) : NULL;
}

/* The digits after "+" or "00". */
static char *international(const char *digits, const char **why)
{
    int code_length;
    const Dialling *dialling = dialling_of(digits, &code_length);

    *why = *digits == '0' ? "has a country code that begins with 0" : NULL;
    if (*why != NULL) return NULL;
    if (code_length > 0)
        return whole_number(digits, (size_t)code_length, digits + code_length, dialling, why);
    *why = length_fault(0, (int)strlen(digits), dialling);
    return *why == NULL ? g_strconcat("+", digits, NULL) : NULL;
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
    *why = *digits == '\0' ? "has no digits" : NULL;
    if (*why != NULL) return NULL;
    if (plus) return international(digits, why);
    if (g_str_has_prefix(digits, "00")) return international(digits + 2, why);
    if (country_code == NULL || *country_code == '\0') {
        *why = "has no country code; begin with + and the country's digits";
        return NULL;
    }
    const Dialling *dialling = dialling_of(country_code, NULL);
    if (is_both(digits, country_code, dialling)) {
        *why = "may be with or without its country code; begin with + and the country's digits";
        return NULL;
    }
    const char *national = without_trunk(digits, dialling);
    if ((int)strlen(national) > national_max(dialling) && g_str_has_prefix(digits, country_code))
        return international(digits, why);
    return whole_number(country_code, strlen(country_code), digits, dialling, why);
}
