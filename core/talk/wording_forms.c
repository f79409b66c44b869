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

/* How people write what follows the country code: the lengths of its groups. */
static const struct {
    const char *code;
    int digits;
    const char *groups;
} PHONES[] = {
    {"+4420", 8, "44"},  {"+44", 10, "46"}, {"+1", 10, "334"},
    {"+33", 9, "12222"}, {"+34", 9, "333"},
};

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

char *wording_phone(const char *number)
{
    for (size_t i = 0; i < G_N_ELEMENTS(PHONES); i++) {
        size_t code = strlen(PHONES[i].code);
        if (!g_str_has_prefix(number, PHONES[i].code) ||
            strlen(number) != code + (size_t)PHONES[i].digits)
            continue;
        const char *head =
            strcmp(PHONES[i].code, "+4420") == 0 ? "+44" NO_BREAK "20" : PHONES[i].code;
        return grouped(head, number + code, PHONES[i].groups);
    }
    return g_strdup(number);
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
