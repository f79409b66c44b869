/* SPDX-License-Identifier: Apache-2.0 */
#include "core/practice/rescreen.h"

#include <string.h>

#define FINDINGS_MAX 32

/* Had the screen a finding of that key? */
static bool had(const Programme *programme, const ScreenFound *screen, const char *key)
{
    const Finding *found[FINDINGS_MAX];

    for (int f = 0; f < screen->n_findings; f++) {
        int n = findings_in(programme, screen->findings[f], found, FINDINGS_MAX);
        for (int i = 0; i < n; i++)
            if (strcmp(found[i]->key, key) == 0) return true;
    }
    return false;
}

static bool had_words(const ScreenFound *screen, const char *words)
{
    for (int f = 0; f < screen->n_findings; f++)
        if (strcmp(screen->findings[f], words) == 0) return true;
    return false;
}

/* One finding's words of the fresh screen. */
static bool is_news(const Programme *programme, const char *words, const ScreenFound *before,
                    Reasons *reasons)
{
    const Finding *found[FINDINGS_MAX];
    int n = findings_in(programme, words, found, FINDINGS_MAX);
    bool news = false;

    if (n == 0 && !had_words(before, words)) {
        reason_add_words(reasons, "a finding that no rule reads is for the clinician", words, NULL,
                         true);
        return true;
    }
    for (int i = 0; i < n; i++) {
        if (!found[i]->clinician || had(programme, before, found[i]->key)) continue;
        reason_add_words(reasons, "a finding for the clinician", found[i]->key, found[i]->because,
                         true);
        news = true;
    }
    return news;
}

/* The client practises with what they were shown, and has the sheet of it at home. */
static bool other_setup(const Programme *programme, const Stage *stage, const char *set_up,
                        const ScreenFound *before, const ScreenFound *now, Reasons *reasons)
{
    bool other = false;

    for (guint i = 0; i < stage->movements->len; i++) {
        const Movement *movement = stage->movements->pdata[i];
        const Setup *then = movement_setup(programme, movement, before, set_up);
        const char *because = NULL;
        if (then == NULL || setup_allowed(programme, then, now, &because)) continue;
        reason_add_words(reasons, "the set-up in use is ruled out: show the client another",
                         then->key, because, true);
        other = true;
    }
    return other;
}

bool rescreen_bars(const Programme *programme, const Stage *stage, const char *set_up,
                   const ScreenFound *before, const ScreenFound *now, Reasons *reasons)
{
    const char *because = NULL;
    bool bars = false;

    for (int f = 0; f < now->n_findings; f++)
        bars = is_news(programme, now->findings[f], before, reasons) || bars;
    if (!stage_allowed(programme, stage, now, &because)) {
        reason_add_words(reasons, "the stage is ruled out", stage->key, because, true);
        return true;
    }
    return other_setup(programme, stage, set_up, before, now, reasons) || bars;
}
