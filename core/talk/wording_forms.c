/* SPDX-License-Identifier: Apache-2.0 */
#include <string.h>

#include "core/talk/wording.h"

#define NO_BREAK "\u00a0" /* a number, or a day and its month, stays on one line */

/* The name of a month, 1 to 12, out of the pack's twelve; the number where the pack lacks it. */
static char *month_name(const Pack *pack, const char *key, int month)
{
    g_autofree char *all = wording(pack, key, NULL);
    g_auto(GStrv) names = g_strsplit(all, " ", 13);

    if (g_strv_length(names) < 12) return g_strdup_printf("%d", month);
    return g_strdup(names[month - 1]);
}

char *wording_day(const Pack *pack, Day day)
{
    int year, month, mday;

    day_to_civil(day, &year, &month, &mday);
    g_autofree char *name = month_name(pack, "paper-months", month);
    g_autofree char *number = g_strdup_printf("%d", mday);
    g_autofree char *of = g_strdup_printf("%d", year);
    return wording(pack, "paper-day", "day", number, "month", name, "year", of, NULL);
}

char *wording_day_short(const Pack *pack, Day day, bool with_year)
{
    int year, month, mday;

    day_to_civil(day, &year, &month, &mday);
    g_autofree char *name = month_name(pack, "paper-months-short", month);
    if (with_year) return g_strdup_printf("%s %d", name, year);
    return g_strdup_printf("%d" NO_BREAK "%s", mday, name);
}

/* How people write a number of so many digits behind these: the lengths of its groups. head (NULL: the code) is how the
 * code is written. */
static const struct {
    const char *code;
    const char *head;
    int digits;
    const char *groups;
} PHONES[] = {
    {"+4420", "+44" NO_BREAK "20", 8, "44"},
    {"+44", NULL, 10, "46"},
    {"+1", NULL, 10, "334"},
    {"+33", NULL, 9, "12222"},
    {"+34", NULL, 9, "333"},
    {"+5233", "+52" NO_BREAK "33", 8, "44"},
    {"+5255", "+52" NO_BREAK "55", 8, "44"},
    {"+5256", "+52" NO_BREAK "56", 8, "44"},
    {"+5281", "+52" NO_BREAK "81", 8, "44"},
    {"+52", NULL, 10, "334"},
};

/* Country codes of one digit and of two (ITU-T E.164, annex); the others have three. */
#define CODES_OF_ONE "17"
static const char CODES_OF_TWO[] =
    "20 27 30 31 32 33 34 36 39 40 41 43 44 45 46 47 48 49 51 52 53 54 55 56 57 58 60 61 62 63 "
    "64 65 66 81 82 84 86 90 91 92 93 94 95 98";

static char *grouped(const char *head, const char *digits, const char *groups)
{
    GString *out = g_string_new(head);

    for (; *groups != '\0' && *digits != '\0'; groups++) {
        int length = *groups - '0';
        g_string_append(out, NO_BREAK);
        g_string_append_len(out, digits, length);
        digits += length;
    }
    return g_string_free(out, FALSE);
}

static size_t code_length(const char *digits)
{
    g_autofree char *two = g_strndup(digits, 2);

    if (strchr(CODES_OF_ONE, *digits) != NULL) return 1;
    return strstr(CODES_OF_TWO, two) != NULL ? 2 : 3;
}

/* Of a country that is not in the table: the code, then threes, and two to four at the end. */
static char *grouped_by_threes(const char *number)
{
    size_t code = 1 + code_length(number + 1);
    g_autofree char *head = g_strndup(number, code);
    g_autoptr(GString) groups = g_string_new(NULL);

    for (size_t left = strlen(number + code); left > 0;) {
        int length = left > 4 ? 3 : (int)left;
        g_string_append_c(groups, (char)('0' + length));
        left -= (size_t)length;
    }
    return grouped(head, number + code, groups->str);
}

static bool is_e164(const char *number)
{
    size_t digits = *number == '+' ? strlen(number + 1) : 0;

    return digits >= 8 && digits <= 15 && strspn(number + 1, "0123456789") == digits;
}

char *wording_phone(const char *number)
{
    if (!is_e164(number)) return g_strdup(number);
    for (size_t i = 0; i < G_N_ELEMENTS(PHONES); i++) {
        size_t code = strlen(PHONES[i].code);
        if (!g_str_has_prefix(number, PHONES[i].code) ||
            strlen(number) != code + (size_t)PHONES[i].digits)
            continue;
        return grouped(PHONES[i].head != NULL ? PHONES[i].head : PHONES[i].code, number + code,
                       PHONES[i].groups);
    }
    return grouped_by_threes(number);
}

static bool runs_leftwards(gunichar letter)
{
    switch (g_unichar_get_script(letter)) {
    case G_UNICODE_SCRIPT_ARABIC:
    case G_UNICODE_SCRIPT_HEBREW:
    case G_UNICODE_SCRIPT_SYRIAC:
    case G_UNICODE_SCRIPT_THAANA:
    case G_UNICODE_SCRIPT_NKO: return true;
    default: return false;
    }
}

char *wording_name(const char *name)
{
    g_autofree char *valid = g_utf8_make_valid(name != NULL ? name : "-", -1);

    for (const char *at = valid; *at != '\0'; at = g_utf8_next_char(at))
        if (runs_leftwards(g_utf8_get_char(at))) return g_strdup_printf("\u2068%s\u2069", valid);
    return g_steal_pointer(&valid);
}
