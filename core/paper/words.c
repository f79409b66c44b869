/* SPDX-License-Identifier: Apache-2.0 */
#include "core/paper/words.h"

#include "core/talk/wording.h"

/* The name of a month, 1 to 12, out of the pack's twelve; the number where the pack lacks it. */
static char *month_name(const Pack *pack, const char *key, int month)
{
    g_autofree char *all = wording(pack, key, NULL);
    g_auto(GStrv) names = g_strsplit(all, " ", 13);

    if (g_strv_length(names) < 12) return g_strdup_printf("%d", month);
    return g_strdup(names[month - 1]);
}

char *paper_day(const Pack *pack, Day day)
{
    int year, month, mday;

    day_to_civil(day, &year, &month, &mday);
    g_autofree char *name = month_name(pack, "paper-months", month);
    g_autofree char *number = g_strdup_printf("%d", mday);
    g_autofree char *of = g_strdup_printf("%d", year);
    return wording(pack, "paper-day", "day", number, "month", name, "year", of, NULL);
}

char *paper_day_short(const Pack *pack, Day day, bool with_year)
{
    int year, month, mday;

    day_to_civil(day, &year, &month, &mday);
    g_autofree char *name = month_name(pack, "paper-months-short", month);
    if (with_year) return g_strdup_printf("%s %d", name, year);
    return g_strdup_printf("%d %s", mday, name);
}

char *paper_decimal(const Pack *pack, double number)
{
    return digest_words_number(MAX(0, number), false, TREND_STEADY, pack);
}

char *paper_range(const Pack *pack, Range range)
{
    g_autofree char *from = paper_decimal(pack, range.from);
    g_autofree char *to = paper_decimal(pack, range.to);

    if (range.from >= range.to) return g_steal_pointer(&to);
    return wording(pack, "paper-range", "from", from, "to", to, NULL);
}

static void add_sentence(GString *out, char *sentence)
{
    if (out->len > 0) g_string_append_c(out, ' ');
    g_string_append(out, sentence);
    g_free(sentence);
}

static void add_with(GString *out, const Pack *pack, const char *key, Range range)
{
    g_autofree char *value = paper_range(pack, range);

    add_sentence(out, wording(pack, key, "value", value, NULL));
}

char *paper_dose(const Pack *pack, const Dose *dose, const Relaxed *relaxed)
{
    GString *out = g_string_new(NULL);
    g_autofree char *sets = g_strdup_printf("%d", dose->sets);
    g_autofree char *times = paper_range(pack, dose->repetitions);

    if (dose->each_side) add_sentence(out, wording(pack, "paper-dose-each", NULL));
    add_sentence(out, wording(pack, dose->sets > 1 ? "paper-dose-rounds" : "paper-dose-times",
                              "rounds", sets, "value", times, NULL));
    if (dose->hold_s.to > 0) add_with(out, pack, "paper-dose-hold", dose->hold_s);
    if (dose->sets > 1 && dose->rest_s.to > 0) add_with(out, pack, "paper-dose-rest", dose->rest_s);
    if (relaxed != NULL && relaxed->minutes.to > 0) {
        g_autofree char *minutes = paper_range(pack, relaxed->minutes);
        g_autofree char *strong = paper_range(pack, relaxed->intensity);
        add_sentence(
            out, wording(pack, "paper-dose-relaxed", "value", minutes, "intensity", strong, NULL));
    }
    return g_string_free(out, FALSE);
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
        g_string_append_c(out, ' ');
        g_string_append_len(out, digits, length);
        digits += length;
    }
    return g_string_free(out, FALSE);
}

char *paper_phone(const char *number)
{
    for (size_t i = 0; i < G_N_ELEMENTS(PHONES); i++) {
        size_t code = strlen(PHONES[i].code);
        if (!g_str_has_prefix(number, PHONES[i].code) ||
            strlen(number) != code + (size_t)PHONES[i].digits)
            continue;
        const char *head = strcmp(PHONES[i].code, "+4420") == 0 ? "+44 20" : PHONES[i].code;
        return grouped(head, number + code, PHONES[i].groups);
    }
    return g_strdup(number);
}

void paper_states(const Pack *pack, char *states[6])
{
    static const char *const KEYS[6] = {"state-done",   "state-partly",  "state-not",
                                        "state-silent", "state-unasked", "state-excused"};

    for (int i = 0; i < 6; i++)
        states[i] = wording(pack, KEYS[i], NULL);
}
