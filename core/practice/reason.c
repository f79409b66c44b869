/* SPDX-License-Identifier: Apache-2.0 */
#include "core/practice/reason.h"

#include <math.h>

void reason_add_number(PracticeReasons *reasons, const char *rule, double value, double limit,
                       bool met)
{
    if (reasons->n < PRACTICE_REASONS_MAX)
        reasons->items[reasons->n++] =
            (PracticeReason){.rule = rule, .value = value, .limit = limit, .met = met};
}

void reason_add_words(PracticeReasons *reasons, const char *rule, const char *value,
                      const char *limit, bool met)
{
    if (reasons->n < PRACTICE_REASONS_MAX)
        reasons->items[reasons->n++] = (PracticeReason){.rule = rule,
                                                        .value_words = value,
                                                        .value = NAN,
                                                        .limit_words = limit,
                                                        .limit = NAN,
                                                        .met = met};
}

static json_t *shown(const char *words, double number)
{
    if (words != NULL) return json_string(words);
    if (!isfinite(number)) return json_null();
    double rounded = round(number * 10) / 10;
    return rounded == trunc(rounded) ? json_integer((json_int_t)rounded) : json_real(rounded);
}

json_t *practice_reasons_json(const PracticeReasons *reasons)
{
    json_t *out = json_array();

    for (int i = 0; i < reasons->n; i++) {
        const PracticeReason *reason = &reasons->items[i];
        json_t *item = json_object();
        json_object_set_new(item, "rule", json_string(reason->rule));
        json_object_set_new(item, "value", shown(reason->value_words, reason->value));
        json_object_set_new(item, "limit", shown(reason->limit_words, reason->limit));
        json_object_set_new(item, "met", json_boolean(reason->met));
        json_array_append_new(out, item);
    }
    return out;
}
