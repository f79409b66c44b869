/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/jobs/ready.h"

#include <string.h>

#include "adapters/store/find_practice.h"
#include "adapters/store/find_record.h"
#include "daemon/jobs/session_told.h"

/* Sessions looked at, newest first: with two a day more than a hundred days, far beyond any window. */
#define SESSIONS_MOST 240

static Day day_at(GTimeZone *zone, int64_t ms)
{
    return zone_local(zone, ms).day;
}

/* The day on which the client came to this stage of this programme. A plan that is set again to the same stage goes on;
 * one that begins later begins then. */
static Day stage_since(Job *job, const Person *person)
{
    GTimeZone *zone = person_zone(job, person);
    int64_t stage = find_setting_since(job->tx, person->id, "plan.stage");
    int64_t programme = find_setting_since(job->tx, person->id, "plan.programme");
    Day since = day_at(zone, MAX(stage, programme));
    int64_t start = find_setting_since(job->tx, person->id, "plan.start");

    return start <= MAX(stage, programme) ? MAX(since, person->times.from) : since;
}

static void add_told(Job *job, const Person *person, Ready *ready, const GPtrArray *ids)
{
    if (ids->len == 0) return;
    g_autoptr(GHashTable) all =
        session_told_load(job, person->id, g_array_index(ready->sessions, ReadySession, 0).day);

    for (guint i = 0; i < ids->len; i++) {
        SessionTold told = session_told_of(all, ids->pdata[i]);
        ReadySession *session = &g_array_index(ready->sessions, ReadySession, i);
        if (told.intensity >= 0) session->intensity = told.intensity;
        if (told.pain >= 0) session->pain = told.pain;
        if (told.pain_some) session->pain = READY_PAIN_SOME;
    }
}

static void add_sessions(Job *job, const Person *person, Ready *ready)
{
    g_autoptr(GPtrArray) rows = find_last_sessions(job->tx, person->id, SESSIONS_MOST);
    g_autoptr(GPtrArray) ids = g_ptr_array_new();

    for (guint i = rows->len; i-- > 0;) {
        const Row *row = rows->pdata[i];
        ReadySession session = {.state = ready_state_from_name(row_text(row, SESSION_STATE)),
                                .intensity = READY_UNTOLD,
                                .pain = READY_UNTOLD};
        if (row_text(row, SESSION_DATE) == NULL ||
            !day_parse(row_text(row, SESSION_DATE), &session.day))
            continue;
        g_ptr_array_add(ids, (gpointer)row_text(row, SESSION_ID));
        g_array_append_val(ready->sessions, session);
    }
    add_told(job, person, ready, ids);
}

static void add_readings(Job *job, const Person *person, Ready *ready)
{
    GTimeZone *zone = person_zone(job, person);

    ready->rows = find_measures(job->tx, person->id, NULL);
    for (guint i = 0; i < ready->rows->len; i++) {
        const Row *row = ready->rows->pdata[i];
        ReadyReading reading = {.day = day_at(zone, row_int(row, MEASURE_AT)),
                                .measure = row_text(row, MEASURE_MOVEMENT),
                                .method = row_text(row, MEASURE_METHOD),
                                .landmark = row_text(row, MEASURE_LANDMARK),
                                .right = g_strcmp0(row_text(row, MEASURE_SIDE), "right") == 0,
                                .value = row_real(row, MEASURE_VALUE)};
        g_array_append_val(ready->readings, reading);
    }
}

static int count_holds(const Person *person)
{
    int n = 0;

    for (guint i = 0; i < person->bars->len; i++)
        n += strcmp(row_text(person->bars->pdata[i], BAR_KIND), "hold") == 0;
    return n;
}

/* What the screen rules out on either side of the stage. */
static void look_around(const Ready *ready, ReadyAsk *ask)
{
    const Stage *next = stage_next(ask->programme, ask->stage);
    const Stage *back = stage_back(ask->programme, ask->stage);
    const char *because;

    if (next != NULL && !stage_allowed(ask->programme, next, &ready->screen->found, &because))
        ask->next_barred = because;
    if (back != NULL && !stage_allowed(ask->programme, back, &ready->screen->found, &because))
        ask->back_barred = because;
}

Ready *ready_judge(Job *job, const Person *person)
{
    const Programme *programme =
        person->programme != NULL ? settings_programme(job->settings, person->programme) : NULL;
    const Stage *stage = programme != NULL && person->stage != NULL
                             ? programme_stage(programme, person->stage)
                             : NULL;
    GTimeZone *zone = person_zone(job, person);

    if (stage == NULL) return NULL;
    Ready *ready = g_new0(Ready, 1);
    ready->sessions = g_array_new(FALSE, FALSE, sizeof(ReadySession));
    ready->readings = g_array_new(FALSE, FALSE, sizeof(ReadyReading));
    ready->screen = screened_load(job, person->id);
    add_sessions(job, person, ready);
    add_readings(job, person, ready);
    g_autoptr(GPtrArray) alerts = find_alerts(job->tx, person->id, false);
    ready->ask = (ReadyAsk){.programme = programme,
                            .stage = stage,
                            .today = day_at(zone, job->now_ms),
                            .stage_since = stage_since(job, person),
                            .sessions = (const ReadySession *)(void *)ready->sessions->data,
                            .n_sessions = (int)ready->sessions->len,
                            .readings = (const ReadyReading *)(void *)ready->readings->data,
                            .n_readings = (int)ready->readings->len,
                            .usual_pain = person->usual_pain,
                            .left = g_strcmp0(person->side, "right") != 0,
                            .right = g_strcmp0(person->side, "left") != 0,
                            .goal_left = person->goal[0],
                            .goal_right = person->goal[1],
                            .open_alerts = (int)alerts->len,
                            .holds = count_holds(person),
                            .screen_due = ready->screen->due,
                            .felt = person->felt,
                            .felt_day = day_at(zone, person->felt_at_ms)};
    look_around(ready, &ready->ask);
    readiness_of(&ready->ask, &ready->answer);
    return ready;
}

void ready_free(Ready *ready)
{
    if (ready == NULL) return;
    screened_free(ready->screen);
    g_clear_pointer(&ready->rows, g_ptr_array_unref);
    g_array_unref(ready->sessions);
    g_array_unref(ready->readings);
    g_free(ready);
}

json_t *ready_json(const Person *person, const Ready *ready)
{
    json_t *document = readiness_json(&ready->ask, &ready->answer);
    g_autofree char *since = day_format(ready->ask.stage_since);

    json_object_set_new(document, "client", json_string(person->id));
    json_object_set_new(document, "programme", json_string(person->programme));
    json_object_set_new(document, "stage_since", json_string(since));
    return document;
}

Day ready_last_practice(const Ready *ready)
{
    Day last = ready->ask.stage_since;

    for (int i = 0; i < ready->ask.n_sessions; i++) {
        const ReadySession *session = &ready->ask.sessions[i];
        bool practised = session->state == READY_DONE || session->state == READY_PARTLY;
        if (practised && session->day <= ready->ask.today) last = MAX(last, session->day);
    }
    return last;
}
