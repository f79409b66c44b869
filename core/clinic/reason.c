/* SPDX-License-Identifier: Apache-2.0 */
#include "core/clinic/reason.h"

#include <math.h>

void reason_add_number(Reasons *reasons, const char *rule, double value, double limit, bool met)
{
    if (reasons->n < REASONS_MAX)
        reasons->items[reasons->n++] =
            (Reason){.rule = rule, .value = value, .limit = limit, .met = met};
}

void reason_add_words(Reasons *reasons, const char *rule, const char *value, const char *limit,
                      bool met)
{
    if (reasons->n < REASONS_MAX)
        reasons->items[reasons->n++] = (Reason){.rule = rule,
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

static json_t *reason_json(const Reason *reason)
{
    return json_pack("{s:s, s:o, s:o, s:b}", "rule", reason->rule, "value",
                     shown(reason->value_words, reason->value), "limit",
                     shown(reason->limit_words, reason->limit), "met", (int)reason->met);
}

json_t *reasons_json(const Reasons *reasons)
{
    json_t *out = json_array();

    for (int i = 0; i < reasons->n; i++)
        json_array_append_new(out, reason_json(&reasons->items[i]));
    return out;
}

json_t *reason_number(const char *rule, double value, double limit, bool met)
{
    return reason_json(&(Reason){.rule = rule, .value = value, .limit = limit, .met = met});
}

json_t *reason_words(const char *rule, const char *value, const char *words)
{
    return json_pack("{s:s, s:s, s:s?}", "rule", rule, "value", value, "words", words);
}

bool reasons_number(const json_t *reasons, double *number)
{
    size_t i;
    json_t *reason;

    json_array_foreach((json_t *)reasons, i, reason)
    {
        const json_t *value = json_object_get(reason, "value");
        if (!json_is_number(value)) continue;
        *number = json_number_value(value);
        return true;
    }
    return false;
}
