/* SPDX-License-Identifier: Apache-2.0 */
/* What a plan sets otherwise than its programme: dose, set-up, goal; and how the plan then reads. */
#include <math.h>
#include <string.h>

#include "core/practice/dose.h"
#include "core/practice/reader.h"
#include "daemon/cli/cli.h"
#include "daemon/control/handlers.h"
#include "daemon/jobs/ready.h"

#define SETS_MAX 10
#define REPETITIONS_MAX 60
#define HOLD_S_MAX 180
#define WEEKS_LOOKED_AT 4

/* --- taking it in --- */

static bool take_whole(Call *call, const char *field, double high, json_t *dose)
{
    double value;
    bool there;

    if (!call_number(call, field, 1, high, &value, &there)) return false;
    if (!there) return true;
    if (value != floor(value))
        return call_fail(call, EXIT_DATA, field, call_text(call, field), "must be a whole number");
    json_object_set_new(dose, field, json_integer((json_int_t)value));
    return true;
}

static bool take_range(Call *call, const char *field, double high, json_t *dose)
{
    const char *text = call_text(call, field);
    Range range;

    if (text == NULL) return true;
    if (!range_parse(text, &range) || range.from > range.to || range.from < 1 || range.to > high)
        return call_fail(call, EXIT_DATA, field, text,
                         "must be a number or from-to such as 8-10, within 1 to %g", high);
    json_object_set_new(dose, field, json_pack("[f, f]", range.from, range.to));
    return true;
}

/* A static hold is held, an active one only for a second or two: a plan cannot turn one into the other. */
static bool check_holds(Call *call, const Stage *stage, const json_t *dose)
{
    const json_t *hold = json_object_get(dose, "hold_s");

    for (guint i = 0; hold != NULL && i < stage->movements->len; i++) {
        const Movement *movement = stage->movements->pdata[i];
        if (movement->dose.work == WORK_ACTIVE && json_number_value(json_array_get(hold, 1)) > 5)
            return call_fail(call, EXIT_DATA, "hold_s", call_text(call, "hold_s"),
                             "is too long for %s, which is moved by one's own muscles and held for "
                             "a second or two (5 at most)",
                             movement->title);
    }
    return true;
}

static bool take_dose(Call *call, const Stage *stage, json_t *fields)
{
    json_t *dose = json_object();
    bool good = take_whole(call, "sets", SETS_MAX, dose) &&
                take_range(call, "repetitions", REPETITIONS_MAX, dose) &&
                take_range(call, "hold_s", HOLD_S_MAX, dose) && check_holds(call, stage, dose);

    if (json_object_size(dose) > 0) {
        json_object_set_new(fields, "dose", dose);
    } else {
        json_object_set_new(fields, "dose", json_null());
        json_decref(dose);
    }
    return good;
}

static bool belongs(const Stage *stage, const Setup *setup)
{
    for (guint i = 0; i < stage->movements->len; i++) {
        const Movement *movement = stage->movements->pdata[i];
        if (g_ptr_array_find(movement->setups, setup, NULL)) return true;
    }
    return false;
}

static bool take_setup(Call *call, const Programme *programme, const Stage *stage,
                       const ScreenFound *screen, json_t *fields)
{
    const char *key = call_text(call, "set_up");
    const char *because = NULL;

    json_object_set_new(fields, "set_up", json_text_or_null(key));
    if (key == NULL) return true;
    const Setup *setup = programme_setup(programme, key);
    if (setup == NULL)
        return call_fail(call, EXIT_DATA, "set_up", key, "is no set-up of %s", programme->key);
    if (!belongs(stage, setup))
        return call_fail(call, EXIT_DATA, "set_up", key, "is none of the set-ups of stage %s",
                         stage->key);
    if (!setup_allowed(programme, setup, screen, &because))
        return call_fail(call, EXIT_NOT_ALLOWED, "set_up", key, "the screen rules it out: %s",
                         because);
    return true;
}

/* --goal-deg is of both sides; --goal-left-deg and --goal-right-deg of one. */
static bool take_goals(Call *call, json_t *fields)
{
    static const char *const NAMES[][2] = {{"goal_left_deg", "goal_left"},
                                           {"goal_right_deg", "goal_right"}};
    double both = 0;
    bool has_both;

    if (!call_number(call, "goal_deg", 20, 120, &both, &has_both)) return false;
    for (size_t i = 0; i < G_N_ELEMENTS(NAMES); i++) {
        double own = both;
        bool has_own;
        if (!call_number(call, NAMES[i][0], 20, 120, &own, &has_own)) return false;
        json_object_set_new(fields, NAMES[i][1],
                            has_both || has_own ? json_real(own) : json_null());
    }
    return true;
}

/* The leg raise that the plan is set with, until one is measured: what drawings go by. */
static bool take_angle(Call *call, json_t *fields)
{
    double angle = 0;
    bool there;

    if (!call_number(call, "angle_deg", 0, 180, &angle, &there)) return false;
    json_object_set_new(fields, "angle_deg", there ? json_real(angle) : json_null());
    return true;
}

bool plan_own_take(Call *call, const Programme *programme, const Stage *stage,
                   const ScreenFound *screen, json_t *fields)
{
    return take_dose(call, stage, fields) && take_setup(call, programme, stage, screen, fields) &&
           take_goals(call, fields) && take_angle(call, fields);
}

/* --- telling it --- */

static json_t *movement_json(Job *job, const Person *person, const Ready *ready,
                             const Movement *movement)
{
    const Programme *programme = ready->ask.programme;
    const Setup *setup = movement_setup(programme, movement, &ready->screen->found, person->set_up);
    bool changed;
    Dose dose = dose_changed(&movement->dose, &person->dose, &changed);

    if (ready->answer.one_dose_lower) dose = dose_lower(&dose);
    g_autofree char *dose_words = dose_text(&dose);
    g_autofree char *text =
        movement_text_for(programme, movement, setup, &person->dose, ready->answer.one_dose_lower);
    bool chosen = setup != NULL && g_strcmp0(setup->key, person->set_up) == 0;
    return json_pack("{s:s, s:s, s:s?, s:b, s:s, s:b, s:b, s:s, s:o}", "movement", movement->key,
                     "title", movement->title, "set_up", setup != NULL ? setup->key : NULL,
                     "set_up_set_for_client", (int)chosen, "dose", dose_words,
                     "dose_set_for_client", (int)changed, "one_dose_lower",
                     (int)ready->answer.one_dose_lower, "text", text, "picture",
                     setup_picture_json(job, person, ready, movement));
}

static json_t *goal_json(double own, double programmes)
{
    double goal = own > 0 ? own : programmes;

    return goal > 0 ? json_real(goal) : json_null();
}

/* Days of the week with a session, as the plan's rule gives them over the weeks to come. */
static int days_a_week(Job *job, const Person *person)
{
    g_autoptr(GArray) sessions = g_array_new(FALSE, FALSE, sizeof(SessionInstant));
    GTimeZone *zone = person_zone(job, person);
    Day from = MAX(zone_local(zone, job->now_ms).day, person->times.from);
    int days = 0;

    sessions_on(&person->times, zone, from, 7 * WEEKS_LOOKED_AT, sessions);
    for (guint i = 0; i < sessions->len; i++)
        days += i == 0 || g_array_index(sessions, SessionInstant, i).date !=
                              g_array_index(sessions, SessionInstant, i - 1).date;
    return (days + WEEKS_LOOKED_AT / 2) / WEEKS_LOOKED_AT;
}

static json_t *week_of(Job *job, const Person *person, const Stage *stage)
{
    MuscleWeek week[DOSE_MUSCLES_MAX];
    DoseChange change = person->dose;

    change.sessions_a_day = person->times.n_times;
    change.days_a_week = days_a_week(job, person);
    return week_json(week, stage_week_planned(stage, &change, week));
}

/* What was told of the last seven days at this stage: how often, and what that comes to for each muscle and side. */
static json_t *week_done(const Person *person, const Ready *ready)
{
    MuscleWeek week[DOSE_MUSCLES_MAX];
    int done = 0, partly = 0, days = 0;
    Day last = 0;

    for (int i = 0; i < ready->ask.n_sessions; i++) {
        const ReadySession *session = &ready->ask.sessions[i];
        bool practised = session->state == READY_DONE || session->state == READY_PARTLY;
        if (!practised || session->day < ready->ask.stage_since ||
            session->day <= ready->ask.today - 7 || session->day > ready->ask.today)
            continue;
        done += session->state == READY_DONE;
        partly += session->state == READY_PARTLY;
        days += days == 0 || session->day != last;
        last = session->day;
    }
    int n = stage_week_done(ready->ask.stage, &person->dose, done, partly, days, week);
    return json_pack("{s:i, s:i, s:i, s:o}", "done", done, "partly", partly, "days", days,
                     "muscles", week_json(week, n));
}

void plan_own_json(Job *job, const Person *person, json_t *document)
{
    g_autoptr(Ready) ready = ready_judge(job, person);
    json_t *movements = json_array();

    if (ready == NULL) {
        json_object_set_new(document, "movements", movements);
        return;
    }
    const Stage *stage = ready->ask.stage;
    double usual = ready->ask.programme->start.goal_deg;
    for (guint i = 0; i < stage->movements->len; i++)
        json_array_append_new(movements,
                              movement_json(job, person, ready, stage->movements->pdata[i]));
    json_object_set_new(document, "movements", movements);
    json_object_set_new(document, "week", week_of(job, person, stage));
    json_object_set_new(document, "week_done", week_done(person, ready));
    json_object_set_new(document, "goal_deg",
                        json_pack("{s:o, s:o, s:b}", "left", goal_json(person->goal[0], usual),
                                  "right", goal_json(person->goal[1], usual), "set_for_client",
                                  person->goal[0] > 0 || person->goal[1] > 0));
    json_object_set_new(document, "screen_due", json_boolean(ready->screen->due));
    json_object_set_new(document, "readiness",
                        json_string(ready_verdict_name(ready->answer.verdict)));
}
