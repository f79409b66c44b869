/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/jobs/pictures.h"

#include <string.h>

#include "adapters/store/find_practice.h"
#include "adapters/store/find_record.h"
#include "core/practice/start.h"
#include "daemon/jobs/session_told.h"

double person_leg_cm(const Person *person, bool *estimated)
{
    double leg = person->leg_cm;
    Refusal refusal;
    bool guess = leg <= 0;

    if (guess && !leg_from_stature(person->stature_cm, &leg, &refusal)) leg = 0;
    if (estimated != NULL) *estimated = guess;
    return leg;
}

static bool by_clinician(const Programme *programme, const Row *row)
{
    const Measure *measure = programme_measure(programme, LEG_RAISE);
    const char *key = row_text(row, MEASURE_METHOD);
    const Method *method = measure != NULL && key != NULL ? measure_method(measure, key) : NULL;

    return method != NULL && !method->by_client;
}

double person_angle_deg(Job *job, const Person *person)
{
    const Programme *programme = settings_measuring(job->settings, person->programme, LEG_RAISE);
    g_autoptr(GPtrArray) rows = find_measures(job->tx, person->id, LEG_RAISE);
    double latest[2] = {-1, -1};
    bool left = g_strcmp0(person->side, "right") != 0;
    bool right = g_strcmp0(person->side, "left") != 0;

    for (guint i = 0; programme != NULL && i < rows->len; i++)
        if (by_clinician(programme, rows->pdata[i]))
            latest[g_strcmp0(row_text(rows->pdata[i], MEASURE_SIDE), "right") == 0] =
                row_real(rows->pdata[i], MEASURE_VALUE);
    double lower = -1;
    if (left) lower = latest[0];
    if (right && latest[1] >= 0 && (lower < 0 || latest[1] < lower)) lower = latest[1];
    return lower >= 0 ? lower : person->angle_deg;
}

Picture *pictures_setup(Job *job, const Person *person, const Ready *ready,
                        const Movement *movement, const Pack *pack)
{
    const Setup *setup =
        movement_setup(ready->ask.programme, movement, &ready->screen->found, person->set_up);

    return picture_of_setup(pack, &(SetupAsk){.movement = movement,
                                              .setup = setup,
                                              .leg_cm = person_leg_cm(person, NULL),
                                              .angle_deg = person_angle_deg(job, person)});
}

int movements_lay_out(const Person *person, const Ready *ready, HandoutMovement *movements)
{
    const GPtrArray *list = ready->ask.stage->movements;

    for (guint i = 0; i < list->len; i++) {
        const Movement *movement = list->pdata[i];
        const Setup *setup =
            movement_setup(ready->ask.programme, movement, &ready->screen->found, person->set_up);
        movements[i] = (HandoutMovement){.movement = movement,
                                         .setup = setup,
                                         .barred = setup == NULL && movement->setups->len > 0};
    }
    return (int)list->len;
}

/* --- the course ---------------------------------------------------------------------------------- */

static void add_session(GHashTable *all, GArray *sessions, const Row *row)
{
    SessionTold told = session_told_of(all, row_text(row, SESSION_ID));
    CourseSession session = {.state = row_text(row, SESSION_STATE),
                             .intensity = told.intensity,
                             .pain = told.pain,
                             .bare = told.bare,
                             .pain_some = told.pain_some};

    if (day_parse(row_text(row, SESSION_DATE), &session.day)) g_array_append_val(sessions, session);
}

static void add_readings(Job *job, const Person *person, Day from, GArray *readings)
{
    g_autoptr(GPtrArray) rows = find_measures(job->tx, person->id, LEG_RAISE);
    GTimeZone *zone = person_zone(job, person);

    for (guint i = 0; i < rows->len; i++) {
        const Row *row = rows->pdata[i];
        LocalTime at = zone_local(zone, row_int(row, MEASURE_AT));
        CourseReading reading = {.day = at.day - from + at.second / 86400.0,
                                 .degrees = row_real(row, MEASURE_VALUE),
                                 .right = g_strcmp0(row_text(row, MEASURE_SIDE), "right") == 0};
        g_array_append_val(readings, reading);
    }
}

static double goal_of(Job *job, const Person *person, int side)
{
    const Programme *programme =
        person->programme != NULL ? settings_programme(job->settings, person->programme) : NULL;

    if (person->goal[side] > 0) return person->goal[side];
    return programme != NULL ? programme->start.goal_deg : -1;
}

Day pictures_begin(Job *job, const Person *person, Day from, Day to)
{
    g_autofree char *first = day_format(from);
    g_autofree char *last = day_format(to);
    g_autoptr(GPtrArray) rows = find_sessions(job->tx, person->id, first, last);
    Day day;

    if (rows->len == 0 || !day_parse(row_text(rows->pdata[0], SESSION_DATE), &day)) return from;
    return MAX(from, MIN(day, to - 13));
}

Picture *pictures_course(Job *job, const Person *person, Day from, Day to, const Pack *pack)
{
    g_autofree char *first = day_format(from);
    g_autofree char *last = day_format(to);
    g_autoptr(GPtrArray) rows = find_sessions(job->tx, person->id, first, last);
    g_autoptr(GHashTable) told = session_told_load(job, person->id, from);
    g_autoptr(GArray) sessions = g_array_new(FALSE, FALSE, sizeof(CourseSession));
    g_autoptr(GArray) readings = g_array_new(FALSE, FALSE, sizeof(CourseReading));

    for (guint i = 0; i < rows->len; i++)
        add_session(told, sessions, rows->pdata[i]);
    add_readings(job, person, from, readings);
    return picture_of_course(
        pack, &(CourseAsk){.from = from,
                           .to = to,
                           .sessions = (const CourseSession *)(void *)sessions->data,
                           .n_sessions = (int)sessions->len,
                           .readings = (const CourseReading *)(void *)readings->data,
                           .n_readings = (int)readings->len,
                           .goal = {goal_of(job, person, 0), goal_of(job, person, 1)}});
}
