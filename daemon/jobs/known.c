/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/jobs/known.h"

#include <math.h>
#include <string.h>

#include "adapters/store/find_practice.h"
#include "core/clinic/reason.h"

#define LEG_RAISE "leg-raise"

static Day day_of(Job *job, const Person *person, int64_t ms)
{
    return zone_local(person_zone(job, person), ms).day;
}

static bool is_fresh(Job *job, const Person *person, int64_t at_ms)
{
    return day_of(job, person, job->now_ms) - day_of(job, person, at_ms) <= KNOWN_DAYS;
}

static const char *place_of(const Programme *programme, char letter)
{
    for (guint i = 0; programme != NULL && i < programme->check_in->len; i++) {
        const CheckIn *entry = programme->check_in->pdata[i];
        if (entry->letter[0] == letter) return entry->place;
    }
    return NULL;
}

/* The letter is of the sheet that the client had when it was told. */
static void add_felt(Job *job, const Person *person, StartAsk *ask, json_t *reasons)
{
    const Programme *programme =
        person->programme != NULL ? settings_programme(job->settings, person->programme) : NULL;

    if (ask->felt != NULL || person->felt == 0 || !is_fresh(job, person, person->felt_at_ms))
        return;
    ask->felt = place_of(programme, person->felt);
    if (ask->felt == NULL) return;
    g_autofree char *date = day_format(day_of(job, person, person->felt_at_ms));
    g_autofree char *words = g_strdup_printf("letter %c on %s", person->felt, date);
    json_array_append_new(reasons, reason_words("felt, by the latest letter", ask->felt, words));
}

/* The latest reading of the side that a clinician took, or NULL. */
static const Row *latest_of(const Measure *measure, const GPtrArray *rows, const char *side)
{
    for (guint i = rows->len; i-- > 0;) {
        const Row *row = rows->pdata[i];
        const char *key = row_text(row, MEASURE_METHOD);
        const Method *method = key != NULL ? measure_method(measure, key) : NULL;
        if (method != NULL && !method->by_client &&
            g_strcmp0(row_text(row, MEASURE_SIDE), side) == 0)
            return row;
    }
    return NULL;
}

static void add_angle(Job *job, const Person *person, const char *side, StartAsk *ask,
                      json_t *reasons)
{
    static const char *const SIDES[] = {"left", "right"};
    const Programme *programme = settings_measuring(job->settings, person->programme, LEG_RAISE);
    const Row *lower = NULL;

    if (ask->angle_deg >= 0 || programme == NULL) return;
    const Measure *measure = programme_measure(programme, LEG_RAISE);
    g_autoptr(GPtrArray) rows = find_measures(job->tx, person->id, LEG_RAISE);
    for (size_t i = 0; i < G_N_ELEMENTS(SIDES); i++) {
        bool other = side != NULL && strcmp(side, SIDES[1 - i]) == 0;
        const Row *row = other ? NULL : latest_of(measure, rows, SIDES[i]);
        if (row == NULL || !is_fresh(job, person, row_int(row, MEASURE_AT))) continue;
        if (lower == NULL || row_real(row, MEASURE_VALUE) < row_real(lower, MEASURE_VALUE))
            lower = row;
    }
    if (lower == NULL) return;
    ask->angle_deg = row_real(lower, MEASURE_VALUE);
    g_autofree char *date = day_format(day_of(job, person, row_int(lower, MEASURE_AT)));
    g_autofree char *value = g_strdup_printf("%g degrees", round(ask->angle_deg * 10) / 10);
    g_autofree char *words = g_strdup_printf("%s side, on %s", row_text(lower, MEASURE_SIDE), date);
    json_array_append_new(reasons, reason_words("leg raise, as measured", value, words));
}

json_t *known_start(Job *job, const Person *person, const char *side, StartAsk *ask)
{
    json_t *reasons = json_array();

    add_felt(job, person, ask, reasons);
    add_angle(job, person, side, ask, reasons);
    return reasons;
}
