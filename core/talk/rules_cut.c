/* SPDX-License-Identifier: Apache-2.0 */
/* Lines that are none of the client's words: each pattern is the beginning of a line, with * for
 * anything. */
#include <string.h>

#include "core/talk/reading_fold.h"
#include "core/talk/rules_grammar.h"

typedef struct {
    char
        *begins; /* what stands before the first *, no spaces behind it, LINE_START bytes at most */
    GPatternSpec *spec;
} CutPattern;

static void cut_free(gpointer data)
{
    CutPattern *cut = data;

    g_pattern_spec_free(cut->spec);
    g_free(cut->begins);
    g_free(cut);
}

static CutPattern *cut_new(const char *folded)
{
    CutPattern *cut = g_new0(CutPattern, 1);

    cut->begins = g_strchomp(g_strndup(folded, MIN(strcspn(folded, "*?"), (size_t)LINE_START)));
    cut->spec = g_pattern_spec_new(folded);
    return cut;
}

static guint start_of(const char *text)
{
    return (guint)((guchar)text[0] << 8 | (guchar)text[1]);
}

static void note_start(Rules *rules, const CutPattern *cut)
{
    bool one = cut->begins[1] == '\0';
    guint from = start_of(cut->begins), to = one ? from + 256 : from + 1;

    for (guint at = from; at < to; at++)
        rules->cut_starts[at / 64] |= G_GUINT64_CONSTANT(1) << (at % 64);
}

void rules_read_cut(Rules *rules, json_t *tree, const char *pointer, Faults *faults)
{
    static const char *const KEYS[] = {
        [CUT_QUOTED] = "quoted", [CUT_HEADING] = "heading",   [CUT_SIGNATURE] = "signature",
        [CUT_LINE] = "line",     [CUT_REACTION] = "reaction", [CUT_KINDS] = NULL};
    json_t *part = json_object_get(tree, "cut"), *item;
    g_autofree char *at = g_strdup_printf("%s/cut", pointer);
    size_t i;

    for (int kind = 0; kind < CUT_KINDS; kind++)
        rules->cut[kind] = g_ptr_array_new_with_free_func(cut_free);
    if (part == NULL) return;
    if (!json_is_object(part)) {
        fault_add(faults, at, "", "must be a table of names and values");
        return;
    }
    fault_unknown_keys(faults, at, part, KEYS);
    for (int kind = 0; kind < CUT_KINDS; kind++)
        json_array_foreach(json_object_get(part, KEYS[kind]), i, item)
        {
            const char *text = json_string_value(item);
            g_autofree char *folded = fold_word(text != NULL ? text : "");
            if (folded[0] == '\0' || folded[0] == '*') {
                g_autofree char *place = g_strdup_printf("%s/%s/%zu", at, KEYS[kind], i);
                fault_add(faults, place, folded,
                          "must be the beginning of a line, with * for anything");
            } else {
                g_ptr_array_add(rules->cut[kind], cut_new(folded));
                note_start(rules, g_ptr_array_index(rules->cut[kind], rules->cut[kind]->len - 1));
            }
        }
}

bool rules_cuts(const Rules *rules, CutKind kind, const char *folded)
{
    for (guint i = 0; i < rules->cut[kind]->len; i++) {
        const CutPattern *cut = rules->cut[kind]->pdata[i];
        if (g_pattern_spec_match_string(cut->spec, folded)) return true;
    }
    return false;
}

bool rules_may_cut(const Rules *rules, const char *start)
{
    if (start[0] == '\0') return false;
    guint at = start_of(start);
    if ((rules->cut_starts[at / 64] >> (at % 64) & 1) == 0) return false;
    for (int kind = 0; kind < CUT_KINDS; kind++)
        for (guint i = 0; i < rules->cut[kind]->len; i++) {
            const CutPattern *cut = rules->cut[kind]->pdata[i];
            if (cut->begins[0] == start[0] &&
                (cut->begins[1] == start[1] || cut->begins[1] == '\0') &&
                g_str_has_prefix(start, cut->begins))
                return true;
        }
    return false;
}
