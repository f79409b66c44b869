/* SPDX-License-Identifier: Apache-2.0 */
#include "core/watch/matter.h"

#include <string.h>

/* Pain that is worse than usual by this much is worth a call; a change of 2 points is the usual
 * bound of clinical importance on a 0 to 10 scale (Farrar et al., Pain 2001;94:149-158). */
#define PAIN_OVER_USUAL 2.0

#define BARE " (a bare number, pain until the client says stretch)"

const char *alert_class_name(AlertClass class)
{
    static const char *const NAMES[] = {[ALERT_NONE] = NULL,
                                        [ALERT_NOW] = "now",
                                        [ALERT_TODAY] = "today",
                                        [ALERT_FOR_DIGEST] = "digest"};

    return NAMES[class];
}

AlertClass alert_class_from_name(const char *name)
{
    for (AlertClass class = ALERT_NOW; class <= ALERT_FOR_DIGEST; class ++)
        if (g_strcmp0(name, alert_class_name(class)) == 0) return class;
    return ALERT_NONE;
}

void matter_clear(Matter *matter)
{
    json_decref(matter->reasons);
    *matter = (Matter){0};
}

AlertClass warning_class(ReadWarning warning)
{
    switch (warning) {
    case WARNING_NONE: return ALERT_NONE;
    case WARNING_CRISIS:
    case WARNING_HEART:
    case WARNING_STROKE:
    case WARNING_CAUDA: return ALERT_NOW;
    case WARNING_CLOT:
    case WARNING_FRACTURE:
    case WARNING_NERVE:
    case WARNING_FALL: return ALERT_TODAY;
    }
    g_assert_not_reached();
}

/* Takes a finding: the graver class wins and gives the kind. */
static void take(Matter *matter, const char *kind, AlertClass class, bool hold, json_t *reason)
{
    json_array_append_new(matter->reasons, reason);
    if (matter->class == ALERT_NONE) {
        matter->kind = kind;
        matter->class = class;
    } else if (class < matter->class) {
        matter->class = class;
    }
    matter->hold = matter->hold || hold;
}

static void judge_pain(double pain, const char *rule_suffix, const MatterLimits *limits,
                       Matter *matter)
{
    double usual = limits->usual_pain < 0 ? 0 : limits->usual_pain;
    double today = MAX(usual + PAIN_OVER_USUAL, (double)limits->pain_today);
    g_autofree char *now_rule = g_strconcat("pain_now", rule_suffix, NULL);
    g_autofree char *today_rule = g_strconcat("pain_today", rule_suffix, NULL);

    if (pain >= limits->pain_now)
        take(matter, "pain", ALERT_NOW, true,
             reason_number(now_rule, pain, limits->pain_now, true));
    else if (pain >= today)
        take(matter, "pain", ALERT_TODAY, true, reason_number(today_rule, pain, today, true));
}

void matter_of_reading(const Reading *reading, const MatterLimits *limits, Matter *matter)
{
    *matter = (Matter){.reasons = json_array()};

    if (reading->warning != WARNING_NONE)
        take(matter, read_warning_name(reading->warning), warning_class(reading->warning), true,
             reason_words("warning", read_warning_name(reading->warning), reading->from_warning));
    if (reading->pain_kind == PAIN_NUMBER) judge_pain(reading->pain, "", limits, matter);
    if (reading->ambiguous_high && reading->intensity >= 0 && reading->pain_kind != PAIN_NUMBER)
        judge_pain(reading->intensity, BARE, limits, matter);
    else if (reading->intensity >= limits->intensity_high)
        take(matter, "strong-stretch", ALERT_FOR_DIGEST, false,
             reason_number("intensity_high", reading->intensity, limits->intensity_high, true));
}

static bool is_of_digest(const json_t *reasons)
{
    size_t i;
    json_t *reason;

    json_array_foreach((json_t *)reasons, i, reason)
    {
        const char *words = json_string_value(json_object_get(reason, "words"));
        if (words != NULL && strcmp(words, MATTER_DIGEST_WORDS) == 0) return true;
    }
    return false;
}

const char *matter_named(const char *kind, const json_t *reasons)
{
    bool bare = false;
    size_t i;
    json_t *reason;

    if (strcmp(kind, "undeliverable") == 0) return is_of_digest(reasons) ? "digest-lost" : kind;
    if (strcmp(kind, "pain") != 0) return kind;
    json_array_foreach((json_t *)reasons, i, reason)
    {
        const char *rule = json_string_value(json_object_get(reason, "rule"));
        if (rule == NULL || !g_str_has_prefix(rule, "pain_")) continue;
        if (!g_str_has_suffix(rule, BARE)) return kind;
        bare = true;
    }
    return bare ? "pain-unsaid" : kind;
}

static bool is(const char *state, const char *name)
{
    return strcmp(state, name) == 0;
}

int missed_run(const DatedState *states, int n)
{
    int run = 0;

    for (int i = 0; i < n;) {
        int32_t date = states[i].date;
        bool asked = false;
        bool practised = false;

        for (; i < n && states[i].date == date; i++) {
            const char *state = states[i].state;
            practised = practised || is(state, "done") || is(state, "partly");
            asked = asked || is(state, "silent") || is(state, "not");
        }
        if (practised) break;
        if (asked) run++;
    }
    return run;
}
