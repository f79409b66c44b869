/* SPDX-License-Identifier: Apache-2.0 */
/* Why osier says what it says: rule, value, limit, and whether it was met. One shape for whatever is decided; lists are
 * gathered without JSON where rules are judged in numbers (readiness), and written out once. */
#ifndef OSIER_CORE_CLINIC_REASON_H
#define OSIER_CORE_CLINIC_REASON_H

#include <glib.h>
#include <jansson.h>
#include <stdbool.h>

#define REASONS_MAX 24

/* A value or limit is words where there are any, else a number, else (NAN) nothing. Texts are
 * static or lent by the programme or by whoever asked; they live as long as those. */
typedef struct {
    const char *rule;
    const char *value_words;
    double value;
    const char *limit_words;
    double limit;
    bool met;
} Reason;

typedef struct {
    Reason items[REASONS_MAX];
    int n;
} Reasons;

/* Adds one; beyond REASONS_MAX the last is kept off, which only many findings of a screen
 * can bring about. */
void reason_add_number(Reasons *reasons, const char *rule, double value, double limit, bool met);
void reason_add_words(Reasons *reasons, const char *rule, const char *value, const char *limit,
                      bool met);

/* [{"rule", "value", "limit", "met"}, ...], a new reference. Numbers are rounded to one decimal. */
json_t *reasons_json(const Reasons *reasons);

/* One by itself (new reference): {"rule", "value", "limit", "met"}. */
json_t *reason_number(const char *rule, double value, double limit, bool met);

/* The first number that a list of reasons holds as a value. False where none does, or reasons is NULL. */
bool reasons_number(const json_t *reasons, double *number);

/* Something told or recorded rather than measured against a limit: {"rule", "value", "words"}, the words (may be NULL)
 * as they were. */
json_t *reason_words(const char *rule, const char *value, const char *words);

#endif
