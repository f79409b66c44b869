/* SPDX-License-Identifier: Apache-2.0 */
/* Doses and movements as people read them. */
#include "core/practice/dose.h"

static void add_range(GString *out, Range range)
{
    if (range.from < range.to)
        g_string_append_printf(out, "%g to %g", range.from, range.to);
    else
        g_string_append_printf(out, "%g", range.to);
}

char *dose_text(const Dose *dose)
{
    GString *out = g_string_new(dose->each_side ? "each side, " : "");

    g_string_append_printf(out, "%d %s of ", dose->sets, dose->sets == 1 ? "set" : "sets");
    add_range(out, dose->repetitions);
    if (dose->hold_s.to > 0) {
        g_string_append(out, ", each held ");
        add_range(out, dose->hold_s);
        g_string_append(out, " s");
    }
    if (dose->sets > 1 && dose->rest_s.to > 0) {
        g_string_append(out, ", ");
        add_range(out, dose->rest_s);
        g_string_append(out, " s rest between sets");
    }
    return g_string_free(out, FALSE);
}

static void add_list(GString *out, const char *head, const GPtrArray *texts)
{
    g_string_append_printf(out, "%s\n", head);
    for (guint i = 0; texts != NULL && i < texts->len; i++)
        g_string_append_printf(out, "- %s\n", (const char *)g_ptr_array_index(texts, i));
}

static void add_setup(GString *out, const Setup *setup)
{
    g_string_append_printf(out, "Set-up: %s. %s\n", setup->title, setup->how);
    g_string_append_printf(out, "Take care: %s\n", setup->caution);
}

static void add_relaxed(GString *out, const Relaxed *relaxed)
{
    if (relaxed->minutes.to <= 0) return;
    g_string_append(out, "Then hold relaxed for ");
    add_range(out, relaxed->minutes);
    g_string_append(out, " minutes at ");
    add_range(out, relaxed->intensity);
    g_string_append(out, " out of 10.\n");
}

char *movement_text(const Programme *programme, const Movement *movement, const Setup *setup)
{
    return movement_text_for(programme, movement, setup, NULL, false);
}

char *movement_text_for(const Programme *programme, const Movement *movement, const Setup *setup,
                        const DoseChange *change, bool lower)
{
    bool changed;
    Dose own = dose_changed(&movement->dose, change, &changed);
    GString *out = g_string_new(NULL);

    if (lower) own = dose_lower(&own);
    g_autofree char *dose = dose_text(&own);

    if (setup == NULL && movement->setups->len > 0) setup = g_ptr_array_index(movement->setups, 0);
    g_string_append_printf(out, "%s\n\n", movement->title);
    g_string_append_printf(out, "Position: %s\n", movement->position);
    if (setup != NULL) add_setup(out, setup);
    g_string_append_printf(out, "Getting into it: %s\n", movement->getting_in);
    g_string_append_printf(out, "What to do: %s\n", movement->doing);
    g_string_append_printf(out, "How much: %s%s.\n", dose,
                           lower     ? " (less than before, after time off)"
                           : changed ? " (set for you)"
                                     : "");
    add_relaxed(out, &movement->relaxed);
    add_list(out, "Keep in mind:", movement->cues);
    g_string_append_printf(out, "How it should feel: %s\n", movement->feel);
    add_list(out, "Avoid:", movement->avoid);
    g_string_append_printf(out, "Getting out of it: %s\n\n", movement->getting_out);
    add_list(out, "Always:", programme->cautions);
    return g_string_free(out, FALSE);
}
