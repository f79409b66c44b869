/* SPDX-License-Identifier: Apache-2.0 */
#include "core/clinic/consent.h"

#include <string.h>

static void cut_point(char *word)
{
    if (g_str_has_suffix(word, ".")) word[strlen(word) - 1] = '\0';
}

/* The dates of a text: how many, and the latest. */
static int dates_of(const char *text, Day *latest)
{
    g_auto(GStrv) words = g_strsplit_set(text, " ,;:()", -1);
    int n = 0;
    Day day;

    for (int i = 0; words[i] != NULL; i++) {
        cut_point(words[i]);
        if (!day_parse(words[i], &day)) continue;
        *latest = n++ == 0 ? day : MAX(*latest, day);
    }
    return n;
}

ConsentState consent_state(const char *text, Day today, char **value, const char **why)
{
    const char *comma = strrchr(text, ',');
    g_autofree char *last = g_strstrip(g_strdup(comma != NULL ? comma + 1 : text));
    Day day;

    cut_point(last);
    if (*last != '\0' && strspn(last, "0123456789-/.") == strlen(last) && !day_parse(last, &day)) {
        *value = g_steal_pointer(&last);
        *why = "is no date; write it as 2026-03-02";
        return CONSENT_WRONG;
    }
    int n = dates_of(text, &day);
    if (n > 0 && day <= today + 1) return CONSENT_SERVES;
    *value = g_strdup(text);
    *why = n > 0 ? "lies ahead; write the date on which consent was given"
                 : "has no date; write how, who took it and when: \"signed form, R. Okafor, "
                   "2026-03-01\"";
    return CONSENT_OPEN;
}
