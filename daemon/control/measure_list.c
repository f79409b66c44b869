/* SPDX-License-Identifier: Apache-2.0 */
/* Measures beside each other: what has really changed, left and right, and how long it may take to the goal. */
#include <math.h>
#include <string.h>

#include "adapters/store/find_practice.h"
#include "core/practice/measure.h"
#include "core/watch/adherence.h"
#include "core/watch/trend.h"
#include "daemon/control/handlers.h"

json_t *json_rounded(double value)
{
    return json_real(round(value * 10) / 10);
}

static bool same_side(const Row *a, const Row *b)
{
    return g_strcmp0(row_text(a, MEASURE_SIDE), row_text(b, MEASURE_SIDE)) == 0;
}

static bool same_method(const Row *a, const Row *b)
{
    return g_strcmp0(row_text(a, MEASURE_METHOD), row_text(b, MEASURE_METHOD)) == 0;
}

static bool reading_of(const Measure *measure, const Row *row, MeasureReading *reading)
{
    const char *method = row_text(row, MEASURE_METHOD);

    *reading = (MeasureReading){.value = row_real(row, MEASURE_VALUE),
                                .method = method != NULL ? measure_method(measure, method) : NULL,
                                .landmark = row_text(row, MEASURE_LANDMARK)};
    return reading->method != NULL;
}

/* The one before the at-th of that movement and side: by the same method where there is one. */
static const Row *one_before(const GPtrArray *rows, guint at)
{
    const Row *other = NULL;

    for (guint i = at; i-- > 0;) {
        const Row *row = rows->pdata[i];
        if (g_strcmp0(row_text(row, MEASURE_MOVEMENT),
                      row_text(rows->pdata[at], MEASURE_MOVEMENT)) != 0 ||
            !same_side(row, rows->pdata[at]))
            continue;
        if (same_method(row, rows->pdata[at])) return row;
        if (other == NULL) other = row;
    }
    return other;
}

static void put_change(json_t *document, const Change *change, const Row *beside)
{
    json_object_set_new(document, "verdict", json_string(change_name(change->verdict)));
    json_object_set_new(document, "change", json_rounded(change->change));
    json_object_set_new(document, "mdc", json_rounded(change->mdc));
    json_object_set_new(document, "better", json_boolean(change->better));
    json_object_set_new(document, "beside", json_rounded(row_real(beside, MEASURE_VALUE)));
    json_object_set_new(document, "beside_at", json_instant(row_int(beside, MEASURE_AT)));
}

/* The client's own date: the evening in the west and the morning in the east are another one in UTC. */
static json_t *date_of(GTimeZone *zone, const Row *row)
{
    g_autofree char *date = day_format(zone_local(zone, row_int(row, MEASURE_AT)).day);

    return json_string(date);
}

json_t *measure_json(Job *job, const Person *person, const GPtrArray *rows, guint at)
{
    const Row *row = rows->pdata[at];
    const char *movement = row_text(row, MEASURE_MOVEMENT);
    const Programme *programme = settings_measuring(job->settings, person->programme, movement);
    json_t *body = json_parsed(row_text(row, MEASURE_BODY));
    json_t *document = json_pack("{s:s, s:s, s:o, s:s, s:o, s:o, s:o, s:o, s:o, s:o}", "measure",
                                 row_text(row, MEASURE_ID), "client", person->id, "at",
                                 json_instant(row_int(row, MEASURE_AT)), "movement", movement,
                                 "side", json_text_or_null(row_text(row, MEASURE_SIDE)), "method",
                                 json_text_or_null(row_text(row, MEASURE_METHOD)), "value",
                                 json_rounded(row_real(row, MEASURE_VALUE)), "unit",
                                 json_text_or_null(row_text(row, MEASURE_UNIT)), "landmark",
                                 json_text_or_null(row_text(row, MEASURE_LANDMARK)), "by",
                                 json_text_or_null(row_text(row, MEASURE_BY)));
    static const char *const MARKS[] = {"reach_cm", "leg_cm", "leg_estimated"};
    MeasureReading now, before;

    for (size_t i = 0; i < G_N_ELEMENTS(MARKS); i++) {
        json_t *mark = json_object_get(body, MARKS[i]);
        if (mark != NULL) json_object_set(document, MARKS[i], mark);
    }
    json_decref(body);
    json_object_set_new(document, "date", date_of(person_zone(job, person), row));
    json_object_set_new(document, "verdict", json_null());
    const Measure *measure = programme != NULL ? programme_measure(programme, movement) : NULL;
    if (measure == NULL || !reading_of(measure, row, &now)) return document;
    json_object_set_new(document, "supports_only", json_boolean(now.method->by_client));
    if (measure->shown_deg_per_cm > 0)
        json_object_set_new(document, "about_deg",
                            json_rounded(now.value * measure->shown_deg_per_cm));
    const Row *beside = one_before(rows, at);
    if (beside == NULL || !reading_of(measure, beside, &before)) return document;
    Change change = measure_change(measure, &before, &now);
    put_change(document, &change, beside);
    json_object_set_new(document, "beside_date", date_of(person_zone(job, person), beside));
    return document;
}

/* --- the whole list --- */

/* Where a side stands and where it goes: the robust slope a week of one method's readings, and how long to the goal. */
static json_t *outlook_json(const Measure *measure, const GPtrArray *rows, const Row *latest,
                            double goal)
{
    g_autoptr(GArray) points = g_array_new(FALSE, FALSE, sizeof(TrendPoint));

    for (guint i = 0; i < rows->len; i++) {
        const Row *row = rows->pdata[i];
        if (!same_side(row, latest) || !same_method(row, latest) ||
            g_strcmp0(row_text(row, MEASURE_MOVEMENT), measure->key) != 0)
            continue;
        TrendPoint point = {.x = (double)row_int(row, MEASURE_AT) / (double)(7 * DAY_MS),
                            .y = row_real(row, MEASURE_VALUE)};
        g_array_append_val(points, point);
    }
    TrendLine line = trend_line((const TrendPoint *)(void *)points->data, (int)points->len, Z_95);
    Forecast forecast = forecast_to_goal(
        measure, row_real(latest, MEASURE_VALUE), goal, line.has_slope ? line.slope : NAN,
        line.has_interval ? line.low : NAN, line.has_interval ? line.high : NAN);
    g_autofree char *text = forecast_text(&forecast);
    json_t *document = json_pack(
        "{s:s, s:o, s:s, s:o, s:i, s:o, s:o}", "movement", measure->key, "side",
        json_text_or_null(row_text(latest, MEASURE_SIDE)), "method",
        row_text(latest, MEASURE_METHOD), "latest", json_rounded(row_real(latest, MEASURE_VALUE)),
        "readings", (int)points->len, "slope_a_week",
        line.has_slope ? json_rounded(line.slope) : json_null(), "interval",
        line.has_interval ? json_pack("[o, o]", json_rounded(line.low), json_rounded(line.high))
                          : json_null());
    MeasureReading reading;
    if (reading_of(measure, latest, &reading))
        json_object_set_new(document, "supports_only", json_boolean(reading.method->by_client));
    if (goal > 0) {
        json_object_set_new(document, "goal", json_rounded(goal));
        json_object_set_new(document, "to_goal", json_string(text));
    }
    return document;
}

/* The latest of a side that a clinician took, else the latest. */
static const Row *latest_of(const GPtrArray *rows, const Measure *measure, const char *side)
{
    const Row *by_client = NULL;

    for (guint i = rows->len; i-- > 0;) {
        const Row *row = rows->pdata[i];
        MeasureReading reading;
        if (g_strcmp0(row_text(row, MEASURE_MOVEMENT), measure->key) != 0 ||
            g_strcmp0(row_text(row, MEASURE_SIDE), side) != 0 ||
            !reading_of(measure, row, &reading))
            continue;
        if (!reading.method->by_client) return row;
        if (by_client == NULL) by_client = row;
    }
    return by_client;
}

/* The latest before the at-th of that movement, method and day, of the other side; or NULL. */
static const Row *beside_it(GTimeZone *zone, const GPtrArray *rows, guint at)
{
    const Row *row = rows->pdata[at];
    Day day = zone_local(zone, row_int(row, MEASURE_AT)).day;

    for (guint i = at; i-- > 0;) {
        const Row *other = rows->pdata[i];
        if (zone_local(zone, row_int(other, MEASURE_AT)).day != day) return NULL;
        if (g_strcmp0(row_text(other, MEASURE_MOVEMENT), row_text(row, MEASURE_MOVEMENT)) == 0 &&
            row_text(other, MEASURE_SIDE) != NULL && !same_side(row, other) &&
            same_method(row, other))
            return other;
    }
    return NULL;
}

/* The right and the left that were read by one method on one day, the latest such pair, or NULL: sides of different days
 * say nothing of each other. */
static json_t *sides_json(GTimeZone *zone, const Measure *measure, const GPtrArray *rows)
{
    MeasureReading on_left, on_right;

    for (guint i = rows->len; i-- > 0;) {
        const Row *row = rows->pdata[i];
        bool is_right = g_strcmp0(row_text(row, MEASURE_SIDE), "right") == 0;
        if (g_strcmp0(row_text(row, MEASURE_MOVEMENT), measure->key) != 0 ||
            row_text(row, MEASURE_SIDE) == NULL)
            continue;
        const Row *other = beside_it(zone, rows, i);
        if (other == NULL || !reading_of(measure, is_right ? other : row, &on_left) ||
            !reading_of(measure, is_right ? row : other, &on_right))
            continue;
        Change change = measure_sides(measure, &on_left, &on_right);
        return json_pack("{s:s, s:s, s:o, s:o, s:o, s:o, s:o, s:s}", "movement", measure->key,
                         "method", on_left.method->key, "at",
                         json_instant(row_int(row, MEASURE_AT)), "left",
                         json_rounded(on_left.value), "right", json_rounded(on_right.value),
                         "difference", json_rounded(change.change), "mdc", json_rounded(change.mdc),
                         "right_is", change_name(change.verdict));
    }
    return NULL;
}

static double goal_of(const Person *person, const Programme *programme, const Measure *measure,
                      const char *side)
{
    double own = person->goal[g_strcmp0(side, "right") == 0];

    if (strcmp(measure->key, "leg-raise") != 0) return -1;
    return own > 0 ? own : programme->start.goal_deg;
}

static void add_movement(Job *job, const Person *person, const GPtrArray *rows,
                         const char *movement, json_t *outlook, json_t *sides)
{
    static const char *const SIDES[] = {"left", "right", NULL};
    const Programme *programme = settings_measuring(job->settings, person->programme, movement);
    const Row *latest[3];

    if (programme == NULL) return;
    const Measure *measure = programme_measure(programme, movement);
    for (size_t i = 0; i < G_N_ELEMENTS(SIDES); i++) {
        latest[i] = latest_of(rows, measure, SIDES[i]);
        if (latest[i] != NULL)
            json_array_append_new(outlook,
                                  outlook_json(measure, rows, latest[i],
                                               goal_of(person, programme, measure, SIDES[i])));
    }
    json_t *beside = sides_json(person_zone(job, person), measure, rows);
    if (beside != NULL) json_array_append_new(sides, beside);
}

bool handle_measure_list(Job *job, Call *call)
{
    g_autoptr(Person) person = call_person(job, call);

    if (person == NULL) return false;
    g_autoptr(GPtrArray) rows = find_measures(job->tx, person->id, NULL);
    g_autoptr(GHashTable) seen = g_hash_table_new(g_str_hash, g_str_equal);
    json_t *list = json_array();
    json_t *outlook = json_array();
    json_t *sides = json_array();
    for (guint i = 0; i < rows->len; i++) {
        const char *movement = row_text(rows->pdata[i], MEASURE_MOVEMENT);
        if (movement == NULL) continue;
        json_array_append_new(list, measure_json(job, person, rows, i));
        if (g_hash_table_add(seen, (gpointer)movement))
            add_movement(job, person, rows, movement, outlook, sides);
    }
    return call_ok(call, json_pack("{s:s, s:o, s:o, s:o}", "client", person->id, "measures", list,
                                   "sides", sides, "outlook", outlook));
}
