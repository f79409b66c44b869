/* SPDX-License-Identifier: Apache-2.0 */
#include "core/paper/words.h"

#include "core/talk/wording.h"

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

void paper_states(const Pack *pack, char *states[6])
{
    static const char *const KEYS[6] = {"state-done",   "state-partly",  "state-not",
                                        "state-silent", "state-unasked", "state-excused"};

    for (int i = 0; i < 6; i++)
        states[i] = wording(pack, KEYS[i], NULL);
}
