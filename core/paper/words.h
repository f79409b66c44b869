/* SPDX-License-Identifier: Apache-2.0 */
/* Dates, numbers and doses as they stand on paper, in the pack's language. Every result is the
 * caller's to g_free. */
#ifndef OSIER_CORE_PAPER_WORDS_H
#define OSIER_CORE_PAPER_WORDS_H

#include "core/paper/picture.h"
#include "core/practice/dose.h"
#include "core/watch/digest_words.h"

/* "16 March 2026", and "16 Mar" (with_year: "Mar 2026") for a narrow place. */
char *paper_day(const Pack *pack, Day day);
char *paper_day_short(const Pack *pack, Day day, bool with_year);

/* At most one decimal, with the pack's mark. */
char *paper_decimal(const Pack *pack, double number);

/* "15 to 20", or "15". */
char *paper_range(const Pack *pack, Range range);

/* "On each side: 2 rounds of 15 to 20 times. ...": the dose as whole sentences. */
char *paper_dose(const Pack *pack, const Dose *dose, const Relaxed *relaxed);

/* A number in groups that can be read aloud: "+44 20 7946 0100". What is no E.164 number stays. */
char *paper_phone(const char *number);

/* The six states: done, partly, not, silent, unasked, excused. */
void paper_states(const Pack *pack, char *states[6]);

#endif
