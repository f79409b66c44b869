/* SPDX-License-Identifier: Apache-2.0 */
/* Why the practice room says what it says: rule, value, limit, and whether it was met. */
#ifndef OSIER_CORE_PRACTICE_REASON_H
#define OSIER_CORE_PRACTICE_REASON_H

#include <glib.h>
#include <jansson.h>
#include <stdbool.h>

#define PRACTICE_REASONS_MAX 24

/* A value or limit is words where there are any, else a number, else (NAN) nothing. Texts are
 * static or lent by the programme or by whoever asked; they live as long as those. */
typedef struct {
    const char *rule;
    const char *value_words;
    double value;
    const char *limit_words;
    double limit;
    bool met;
} PracticeReason;

typedef struct {
    PracticeReason items[PRACTICE_REASONS_MAX];
    int n;
} PracticeReasons;

/* Adds one; beyond PRACTICE_REASONS_MAX the last is kept off, which only many findings of a screen
 * can bring about. */
void reason_add_number(PracticeReasons *reasons, const char *rule, double value, double limit,
                       bool met);
void reason_add_words(PracticeReasons *reasons, const char *rule, const char *value,
                      const char *limit, bool met);

/* [{"rule", "value", "limit", "met"}, ...], a new reference. Numbers are rounded to one decimal. */
json_t *practice_reasons_json(const PracticeReasons *reasons);

#endif
