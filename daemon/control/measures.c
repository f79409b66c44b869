/* SPDX-License-Identifier: Apache-2.0 */
/* Measures: taken, turned into an angle where the client measured a distance, and set beside the
 * ones before. */
#include <math.h>
#include <string.h>

#include "adapters/store/find_practice.h"
#include "core/practice/geometry.h"
#include "core/practice/measure.h"
#include "core/watch/adherence.h"
#include "core/watch/trend.h"
#include "daemon/cli/cli.h"
#include "daemon/control/handlers.h"

#define LANDMARK_MAX_CHARS 120

/* A reading on its way in. */
typedef struct {
    const Measure *measure;
    const Method *method;
    const char *side; /* or NULL */
    double value;
    double reach_cm; /* where it was turned into an angle; else 0 */
    double leg_cm;
    bool leg_estimated;
    int64_t at_ms;
} Taken;

static json_t *rounded(double value)
{
    return json_real(round(value * 10) / 10);
}

/* The keys of a measure's methods, for whoever named another. */
static char *method_keys(const Measure *measure)
{
    g_autoptr(GString) keys = g_string_new(NULL);

    for (guint i = 0; i < measure->methods->len; i++)
        g_string_append_printf(keys, "%s%s", i > 0 ? ", " : "",
                               ((const Method *)measure->methods->pdata[i])->key);
    return g_string_free(g_steal_pointer(&keys), FALSE);
}

static bool read_what(Job *job, Call *call, const Person *person, Taken *taken)
{
    const char *movement = call_need(call, "movement", "--movement leg-raise");
    const char *method =
        movement != NULL ? call_need(call, "method", "--method goniometer|door|...") : NULL;
    const char *side = call_text(call, "side");

    if (method == NULL) return false;
    const Programme *programme = settings_measuring(job->settings, person->programme, movement);
    if (programme == NULL)
        return call_fail(call, EXIT_DATA, "movement", movement,
                         "is no measure of any programme of this clinic; try leg-raise");
    taken->measure = programme_measure(programme, movement);
    taken->method = measure_method(taken->measure, method);
    if (taken->method == NULL) {
        g_autofree char *keys = method_keys(taken->measure);
        return call_fail(call, EXIT_DATA, "method", method, "is no way to measure %s; there are %s",
                         movement, keys);
    }
    if (side != NULL && strcmp(side, "left") != 0 && strcmp(side, "right") != 0)
        return call_fail(call, EXIT_USE, "side", side, "is one of left, right");
    if (side == NULL && strcmp(taken->measure->unit, "deg") == 0)
        return call_fail(call, EXIT_USE, "side", "", "is needed: --side left|right");
    taken->side = side;
    return true;
}

/* The leg from hip joint to heel: as measured, else from stature. */
static bool find_leg(Call *call, const Person *person, Taken *taken)
{
    Refusal refusal;

    taken->leg_cm = person->leg_cm;
    taken->leg_estimated = person->leg_cm <= 0;
    if (!taken->leg_estimated || leg_from_stature(person->stature_cm, &taken->leg_cm, &refusal))
        return true;
    return call_fail(call, EXIT_DATA, "client", person->id,
                     "has neither leg nor stature, so a distance gives no angle: osier client set "
                     "%s --leg-cm 85 (or --stature-cm 165)",
                     person->id);
}

/* A distance or height that the client measured becomes an angle. */
static bool read_reach(Call *call, const Person *person, GeometryKind kind, Taken *taken)
{
    const char *field = kind == GEOMETRY_DOOR ? "distance_cm" : "height_cm";
    const char *option = kind == GEOMETRY_DOOR ? "--distance-cm 30" : "--height-cm 60";
    Refusal refusal;
    bool there;
    Lay lay;

    if (!call_number(call, field, 0, LEG_CM_MAX, &taken->reach_cm, &there)) return false;
    if (!there)
        return call_fail(call, EXIT_USE, field, "", "is needed with --method %s: %s",
                         taken->method->key, option);
    if (!find_leg(call, person, taken)) return false;
    if (!lay_from_reach(kind, taken->leg_cm, 0, taken->reach_cm, &lay, &refusal)) {
        g_autofree char *text = g_strdup_printf("%g", refusal.value);
        return call_fail(call, EXIT_DATA, refusal.what, text, "%s", refusal.why);
    }
    taken->value = lay.angle_deg;
    return true;
}

/* The field that a plain reading of the unit comes in. */
static const char *value_field(const Call *call, const Measure *measure)
{
    if (strcmp(measure->unit, "deg") == 0) return "angle_deg";
    if (strcmp(measure->unit, "cm") != 0) return "value";
    return json_object_get(call->body, "height_cm") != NULL ? "height_cm" : "distance_cm";
}

static bool read_value(Call *call, const Person *person, Taken *taken)
{
    const Measure *measure = taken->measure;
    bool angle = strcmp(measure->unit, "deg") == 0;
    Refusal refusal;
    bool there;

    if (angle && strcmp(taken->method->key, "door") == 0)
        return read_reach(call, person, GEOMETRY_DOOR, taken);
    if (angle && strcmp(taken->method->key, "heel") == 0)
        return read_reach(call, person, GEOMETRY_HEEL, taken);
    const char *field = value_field(call, measure);
    if (json_object_get(call->body, field) == NULL) field = "value";
    if (!call_number(call, field, -1000, 1000, &taken->value, &there)) return false;
    if (!there)
        return call_fail(call, EXIT_USE, value_field(call, measure), "", "is needed, in %s",
                         measure->unit);
    if (measure_possible(measure, taken->value, &refusal)) return true;
    g_autofree char *text = g_strdup_printf("%g", refusal.value);
    return call_fail(call, EXIT_DATA, field, text, "%s", refusal.why);
}

/* When it was taken: now, or noon of a day before. */
static bool read_when(Job *job, Call *call, const Person *person, Taken *taken)
{
    GTimeZone *zone = person_zone(job, person);
    bool there;
    Day day;

    taken->at_ms = job->now_ms;
    if (!call_day(call, "date", &day, &there)) return false;
    if (!there || day == zone_local(zone, job->now_ms).day) return true;
    taken->at_ms = zone_instant(zone, (LocalTime){.day = day, .second = 12 * 3600}, NULL);
    if (taken->at_ms > job->now_ms)
        return call_fail(call, EXIT_DATA, "date", call_text(call, "date"), "lies ahead");
    return true;
}

static json_t *taken_body(const Taken *taken, const char *landmark, const char *by)
{
    json_t *body =
        json_pack("{s:I, s:s, s:s?, s:s, s:f, s:s, s:s?, s:s}", "at", (json_int_t)taken->at_ms,
                  "movement", taken->measure->key, "side", taken->side, "method",
                  taken->method->key, "value", round(taken->value * 100) / 100, "unit",
                  taken->measure->unit, "landmark", landmark, "by", by);

    if (taken->leg_cm > 0) {
        json_object_set_new(body, "reach_cm", json_real(taken->reach_cm));
        json_object_set_new(body, "leg_cm", rounded(taken->leg_cm));
        json_object_set_new(body, "leg_estimated", json_boolean(taken->leg_estimated));
    }
    return body;
}

/* --- beside each other --- */

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
    json_object_set_new(document, "change", rounded(change->change));
    json_object_set_new(document, "mdc", rounded(change->mdc));
    json_object_set_new(document, "better", json_boolean(change->better));
    json_object_set_new(document, "beside", rounded(row_real(beside, MEASURE_VALUE)));
    json_object_set_new(document, "beside_at", json_instant(row_int(beside, MEASURE_AT)));
}

static json_t *measure_json(Job *job, const Person *person, const GPtrArray *rows, guint at)
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
                                 rounded(row_real(row, MEASURE_VALUE)), "unit",
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
    json_object_set_new(document, "verdict", json_null());
    const Measure *measure = programme != NULL ? programme_measure(programme, movement) : NULL;
    if (measure == NULL || !reading_of(measure, row, &now)) return document;
    json_object_set_new(document, "supports_only", json_boolean(now.method->by_client));
    const Row *beside = one_before(rows, at);
    if (beside == NULL || !reading_of(measure, beside, &before)) return document;
    Change change = measure_change(measure, &before, &now);
    put_change(document, &change, beside);
    return document;
}

bool handle_measure_add(Job *job, Call *call)
{
    g_autoptr(Person) person = call_person(job, call);
    const char *by = person != NULL ? call_need(call, "by", "--by NAME, who measured") : NULL;
    const char *landmark = call_text(call, "landmark");
    Taken taken = {0};

    if (by == NULL || !read_what(job, call, person, &taken) || !read_value(call, person, &taken) ||
        !read_when(job, call, person, &taken))
        return false;
    if (landmark != NULL && g_utf8_strlen(landmark, -1) > LANDMARK_MAX_CHARS)
        return call_fail(call, EXIT_DATA, "landmark", "", "is longer than %d characters",
                         LANDMARK_MAX_CHARS);
    g_autofree char *id = g_strdup(tx_append(job->tx, "measure.taken", person->id, by, NULL,
                                             taken_body(&taken, landmark, by)));
    g_autoptr(GPtrArray) rows = find_measures(job->tx, person->id, taken.measure->key);
    for (guint i = 0; i < rows->len; i++)
        if (strcmp(row_text(rows->pdata[i], MEASURE_ID), id) == 0)
            return call_ok(call, measure_json(job, person, rows, i));
    g_assert_not_reached();
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
    json_t *document =
        json_pack("{s:s, s:o, s:s, s:o, s:i, s:o, s:o}", "movement", measure->key, "side",
                  json_text_or_null(row_text(latest, MEASURE_SIDE)), "method",
                  row_text(latest, MEASURE_METHOD), "latest",
                  rounded(row_real(latest, MEASURE_VALUE)), "readings", (int)points->len,
                  "slope_a_week", line.has_slope ? rounded(line.slope) : json_null(), "interval",
                  line.has_interval ? json_pack("[o, o]", rounded(line.low), rounded(line.high))
                                    : json_null());
    if (goal > 0) {
        json_object_set_new(document, "goal", rounded(goal));
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

/* The latest right beside the latest left of a movement, or NULL. */
static json_t *sides_json(const Measure *measure, const Row *left, const Row *right)
{
    MeasureReading on_left, on_right;

    if (left == NULL || right == NULL || !reading_of(measure, left, &on_left) ||
        !reading_of(measure, right, &on_right))
        return NULL;
    Change change = measure_sides(measure, &on_left, &on_right);
    return json_pack("{s:s, s:o, s:o, s:o, s:o, s:s}", "movement", measure->key, "left",
                     rounded(on_left.value), "right", rounded(on_right.value), "difference",
                     rounded(change.change), "mdc", rounded(change.mdc), "right_is",
                     change_name(change.verdict));
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
    json_t *beside = sides_json(measure, latest[0], latest[1]);
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
