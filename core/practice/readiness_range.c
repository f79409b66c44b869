/* SPDX-License-Identifier: Apache-2.0 */
#include "core/practice/readiness_range.h"

/* The measure a stage is judged by: its own, or else the first that any stage of the programme asks
 * for. */
static const Measure *range_measure(const ReadyAsk *ask)
{
    const char *key = ask->stage->exit.measure;

    for (int i = 0; key == NULL && i < programme_stages(ask->programme); i++)
        key = programme_stage_at(ask->programme, i)->exit.measure;
    return programme_measure(ask->programme, key);
}

/* A reading that decides: of that measure and side, by a known method, taken by a clinician. */
static bool decides(const ReadyReading *reading, const Measure *measure, bool right,
                    MeasureReading *out)
{
    if (reading->right != right || g_strcmp0(reading->measure, measure->key) != 0) return false;
    const Method *method =
        reading->method != NULL ? measure_method(measure, reading->method) : NULL;
    if (method == NULL || method->by_client) return false;
    *out =
        (MeasureReading){.value = reading->value, .method = method, .landmark = reading->landmark};
    return true;
}

/* The latest deciding reading before the end-th, or -1. */
static int latest(const ReadyAsk *ask, const Measure *measure, bool right, int end,
                  MeasureReading *out)
{
    for (int i = end - 1; i >= 0; i--)
        if (ask->readings[i].day <= ask->today && decides(&ask->readings[i], measure, right, out))
            return i;
    return -1;
}

static bool side_reached(const ReadyAsk *ask, const Measure *measure, bool right, Reasons *reasons)
{
    const ExitRule *rule = &ask->stage->exit;
    double own = right ? ask->goal_right : ask->goal_left;
    double goal = own > 0 ? own : ask->programme->start.goal_deg;
    double limit = rule->goal && goal > 0 ? goal : rule->at_least;
    MeasureReading reading;
    int at = latest(ask, measure, right, ask->n_readings, &reading);
    const char *rule_name = right ? "measure, right side" : "measure, left side";

    if (at < 0 || ask->today - ask->readings[at].day > rule->measure_days) {
        reason_add_words(reasons, rule_name, at < 0 ? "none taken" : "too old", measure->key,
                         false);
        return false;
    }
    bool met = measure->less_is_better ? reading.value <= limit : reading.value >= limit;
    reason_add_number(reasons, rule_name, reading.value, limit, met);
    return met;
}

bool range_reached(const ReadyAsk *ask, Reasons *reasons)
{
    const Measure *measure = programme_measure(ask->programme, ask->stage->exit.measure);
    bool met = true;

    if (measure == NULL) return true;
    if (ask->left || !ask->right) met = side_reached(ask, measure, false, reasons) && met;
    if (ask->right || !ask->left) met = side_reached(ask, measure, true, reasons) && met;
    return met;
}

/* The first deciding reading since the stage began, before the end-th, or -1. */
static int first(const ReadyAsk *ask, const Measure *measure, bool right, int end,
                 MeasureReading *out)
{
    for (int i = 0; i < end; i++)
        if (ask->readings[i].day >= ask->stage_since &&
            decides(&ask->readings[i], measure, right, out))
            return i;
    return -1;
}

static bool worse(const Measure *measure, const MeasureReading *before, const MeasureReading *now,
                  Change *change)
{
    *change = measure_change(measure, before, now);
    return change->verdict == (measure->less_is_better ? CHANGE_MORE : CHANGE_LESS);
}

static bool side_lost(const ReadyAsk *ask, const Measure *measure, bool right, Reasons *reasons)
{
    MeasureReading now, before, begin;
    Change since_last, since_begin;
    int at = latest(ask, measure, right, ask->n_readings, &now);

    if (at < 0 || ask->readings[at].day < ask->stage_since) return false;
    bool has_before = latest(ask, measure, right, at, &before) >= 0;
    bool has_begin = first(ask, measure, right, at, &begin) >= 0;
    if (!has_before) return false;
    bool lost = worse(measure, &before, &now, &since_last);
    const Change *shown = &since_last;
    if (!lost && has_begin && worse(measure, &begin, &now, &since_begin)) {
        lost = true;
        shown = &since_begin;
    }
    reason_add_number(reasons,
                      right ? "step back: loss of range, right side"
                            : "step back: loss of range, left side",
                      shown->change, measure->less_is_better ? shown->mdc : -shown->mdc, lost);
    return lost;
}

bool range_lost(const ReadyAsk *ask, Reasons *reasons)
{
    const Measure *measure = range_measure(ask);
    bool lost = false;

    if (measure == NULL || !ask->stage->back.loss) return false;
    if (ask->left || !ask->right) lost = side_lost(ask, measure, false, reasons) || lost;
    if (ask->right || !ask->left) lost = side_lost(ask, measure, true, reasons) || lost;
    return lost;
}
