/* SPDX-License-Identifier: Apache-2.0 */
/* The clinic's clients side by side. */
#include "core/paper/words.h"
#include "core/talk/wording.h"

static void row_clear(void *gone)
{
    AdherenceRow *row = gone;

    g_free(row->name);
    g_free(row->figure);
    g_free(row);
}

/* Of what they were asked for; those who were asked for nothing come last. */
static double share(const AdherenceEntry *entry)
{
    Adherence adherence = adherence_of(entry->counts);

    return adherence.has_rate ? adherence.rate : 2;
}

static int by_share(const void *a, const void *b)
{
    const AdherenceEntry *left = *(const AdherenceEntry *const *)a;
    const AdherenceEntry *right = *(const AdherenceEntry *const *)b;
    double difference = share(left) - share(right);

    if (difference != 0) return difference < 0 ? -1 : 1;
    return left < right ? -1 : 1;
}

static AdherenceRow *row_new_of(const Pack *pack, const AdherenceEntry *entry)
{
    AdherenceRow *row = g_new0(AdherenceRow, 1);
    Adherence whole = adherence_of(entry->counts);
    g_autofree char *done = g_strdup_printf("%d", entry->counts.done);
    g_autofree char *all = g_strdup_printf("%d", whole.prescribed);

    row->name = digest_words_line(entry->name);
    /* What nobody was asked for is not held up as undone. */
    row->figure = whole.due > 0 ? wording(pack, "picture-of", "value", done, "total", all, NULL)
                                : g_strdup("");
    row->counts = entry->counts;
    return row;
}

static char *alt_of(const Pack *pack, const AdherenceDrawing *drawing)
{
    GString *out = g_string_new(NULL);

    for (guint i = 0; i < drawing->rows->len; i++) {
        const AdherenceRow *row = drawing->rows->pdata[i];
        g_autofree char *counts = digest_words_counts(row->counts, pack);
        g_string_append_printf(out, "%s%s: %s", i > 0 ? "; " : "", row->name, counts);
    }
    g_string_append_c(out, '.');
    return g_string_free(out, FALSE);
}

Picture *picture_of_adherence(const Pack *pack, const AdherenceEntry *entries, int n)
{
    g_autoptr(GPtrArray) chosen = g_ptr_array_new();

    for (int i = 0; i < n; i++)
        if (adherence_of(entries[i].counts).prescribed > 0)
            g_ptr_array_add(chosen, (gpointer)&entries[i]);
    if (chosen->len == 0) return NULL;
    bool some = chosen->len > ADHERENCE_ROWS_MAX;
    if (some) {
        qsort(chosen->pdata, chosen->len, sizeof chosen->pdata[0], by_share);
        g_ptr_array_set_size(chosen, ADHERENCE_ROWS_MAX);
    }
    Picture *picture = g_new0(Picture, 1);
    picture->adherence = g_new0(AdherenceDrawing, 1);
    picture->adherence->rows = g_ptr_array_new_with_free_func(row_clear);
    for (guint i = 0; i < chosen->len; i++)
        g_ptr_array_add(picture->adherence->rows, row_new_of(pack, chosen->pdata[i]));
    paper_states(pack, picture->adherence->states);
    g_autofree char *most = g_strdup_printf("%d", ADHERENCE_ROWS_MAX);
    picture->title =
        wording(pack, some ? "picture-adherence-least" : "picture-adherence", "value", most, NULL);
    picture->alt = alt_of(pack, picture->adherence);
    return picture;
}
