/* SPDX-License-Identifier: Apache-2.0 */
/* Numbers and doses as they stand on paper, in the pack's language. Every result is the
 * caller's to g_free. */
#ifndef OSIER_CORE_PAPER_WORDS_H
#define OSIER_CORE_PAPER_WORDS_H

#include "core/paper/picture.h"
#include "core/practice/dose.h"
#include "core/watch/digest_words.h"

/* At most one decimal, with the pack's mark. */
char *paper_decimal(const Pack *pack, double number);

/* "15 to 20", or "15". */
char *paper_range(const Pack *pack, Range range);

/* "On each side: 2 rounds of 15 to 20 times. ...": the dose as whole sentences. */
char *paper_dose(const Pack *pack, const Dose *dose, const Relaxed *relaxed);

/* The six states: done, partly, not, silent, unasked, excused. */
void paper_states(const Pack *pack, char *states[6]);

#endif
