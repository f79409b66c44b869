/* SPDX-License-Identifier: Apache-2.0 */
#include "core/clinic/consent.h"

#include <string.h>

/* Digits in parts, as nothing but a date is written, or eight of them. */
static bool is_like_a_date(const char *word)
{
    size_t length = strlen(word);
    bool parted = strpbrk(word, "-/.") != NULL;

    return strspn(word, "0123456789-/.") == length && length <= 10 &&
           (parted ? length >= 6 : length == 8);
}

const char *consent_fault(const char *text, Day today, char **value)
{
    g_auto(GStrv) words = g_strsplit_set(text, " ,;:()", -1);
    bool dated = false;
    Day day;

    for (int i = 0; words[i] != NULL; i++) {
        if (g_str_has_suffix(words[i], ".")) words[i][strlen(words[i]) - 1] = '\0';
        if (!is_like_a_date(words[i])) continue;
        bool sound = day_parse(words[i], &day);
        dated = true;
        if (sound && day <= today + 1) continue;
        *value = g_strdup(words[i]);
        return sound ? "lies ahead; write the date on which consent was given"
                     : "is no date; write it as 2026-03-02";
    }
    if (dated) return NULL;
    *value = g_strdup(text);
    return "has no date; write how, who took it and when: \"signed form, R. Okafor, 2026-03-01\"";
}
