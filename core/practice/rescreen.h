/* SPDX-License-Identifier: Apache-2.0 */
/* A fresh screen beside a plan that runs already: does the plan still suit, or must a clinician say how it goes on? */
#ifndef OSIER_CORE_PRACTICE_RESCREEN_H
#define OSIER_CORE_PRACTICE_RESCREEN_H

#include "core/practice/start.h"

/* What the screen says against the plan's stage and the set-ups in use (set_up: the one chosen for the client, or NULL):
 * the stage ruled out, another set-up than the client was shown, a finding for the clinician that the screen before did not
 * have, or one that no rule reads. Adds its reasons; true where there are any. */
bool rescreen_bars(const Programme *programme, const Stage *stage, const char *set_up,
                   const ScreenFound *before, const ScreenFound *now, Reasons *reasons);

#endif
