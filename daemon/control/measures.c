/* SPDX-License-Identifier: Apache-2.0 */
/* Measures as they are taken: checked, and turned into an angle where the client measured a distance. */
#include <math.h>
#include <string.h>

#include "adapters/store/find_practice.h"
#include "core/practice/geometry.h"
#include "core/practice/measure.h"
#include "daemon/cli/cli.h"
#include "daemon/control/handlers.h"
#include "daemon/jobs/loss.h"

#define LANDMARK_MAX_CHARS 120
#define FIRST_YEAR 1900

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
        return call_fail(call, EXIT_USE, "side", side, "must be one of left, right");
    if (side == NULL && strcmp(taken->measure->unit, "deg") == 0)
        return call_fail(call, EXIT_USE, "side", "", "is needed: --side left|right");
    taken->side = side;
    return true;
}

/* What was given beside the one field that counts is nothing to leave out in silence. */
static bool is_alone(Call *call, const char *field, const Method *method)
{
    static const char *const FIELDS[] = {"angle_deg", "distance_cm", "height_cm", "value"};

    for (size_t i = 0; i < G_N_ELEMENTS(FIELDS); i++) {
        const json_t *given = json_object_get(call->body, FIELDS[i]);
        if (given == NULL || json_is_null(given) || strcmp(FIELDS[i], field) == 0) continue;
        g_autofree char *text = json_is_string(given) ? g_strdup(json_string_value(given))
                                                      : json_dumps(given, JSON_ENCODE_ANY);
        return call_fail(call, EXIT_USE, FIELDS[i], text,
                         "is not what --method %s measures: give %s alone", method->key, field);
    }
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
    if (!is_alone(call, field, taken->method) || !find_leg(call, person, taken)) return false;
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
    if (json_object_get(call->body, field) == NULL && json_object_get(call->body, "value") != NULL)
        field = "value";
    if (!is_alone(call, field, taken->method)) return false;
    if (!call_number(call, field, -1000, 1000, &taken->value, &there)) return false;
    if (!there) return call_fail(call, EXIT_USE, field, "", "is needed, in %s", measure->unit);
    if (measure_possible(measure, taken->value, &refusal)) return true;
    g_autofree char *text = g_strdup_printf("%g", refusal.value);
    return call_fail(call, EXIT_DATA, field, text, "%s", refusal.why);
}

/* A slip of a century would stand before all others, and count as where the client began. */
static bool is_of_a_life(Call *call, const Person *person, Day day)
{
    int year = MAX(person->born, FIRST_YEAR);
    Day first;

    day_from_civil(year, 1, 1, &first);
    if (day >= first) return true;
    return call_fail(call, EXIT_DATA, "date", call_text(call, "date"), "lies before %s %d",
                     person->born > 0 ? "the client was born, in" : "the year", year);
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
    if (!is_of_a_life(call, person, day)) return false;
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
        json_object_set_new(body, "leg_cm", json_rounded(taken->leg_cm));
        json_object_set_new(body, "leg_estimated", json_boolean(taken->leg_estimated));
    }
    return body;
}

bool handle_measure_add(Job *job, Call *call)
{
    g_autoptr(Person) person = call_person(job, call);
    const char *by = person != NULL ? call_by(call, "--by NAME, who measured") : NULL;
    const char *landmark = call_text(call, "landmark");
    Taken taken = {0};

    if (by == NULL || !read_what(job, call, person, &taken) || !read_value(call, person, &taken) ||
        !read_when(job, call, person, &taken))
        return false;
    if (landmark != NULL && !call_words(call, "landmark", landmark, LANDMARK_MAX_CHARS))
        return false;
    g_autofree char *id = g_strdup(tx_append(job->tx, "measure.taken", person->id, by, NULL,
                                             taken_body(&taken, landmark, by)));
    g_autoptr(GPtrArray) rows = find_measures(job->tx, person->id, taken.measure->key);
    g_autofree char *alert = loss_heed(job, person, taken.measure, rows);
    for (guint i = 0; i < rows->len; i++) {
        if (strcmp(row_text(rows->pdata[i], MEASURE_ID), id) != 0) continue;
        json_t *document = measure_json(job, person, rows, i);
        if (alert != NULL) json_object_set_new(document, "alert", json_string(alert));
        return call_ok(call, document);
    }
    return call_lost(job);
}
