/* SPDX-License-Identifier: Apache-2.0 */
/* Pictures of one client, in the clinic's language: for whoever treats. */
#include "daemon/jobs/pictures.h"

#include <string.h>

#include "daemon/cli/cli.h"
#include "daemon/control/handlers.h"

#define COURSE_DAYS 56
#define COURSE_DAYS_MOST 800
#define COURSE_WIDTH 760.0
#define SETUP_WIDTH 420.0

static const Pack *clinic_pack(Job *job)
{
    return settings_pack(job->settings, job->clinic->language);
}

Picture *course_picture(Job *job, const Person *person, int days)
{
    Day today = zone_local(person_zone(job, person), job->now_ms).day;

    return pictures_course(job, person, today - days + 1, today, clinic_pack(job));
}

/* days: so many up to today. */
bool handle_course_picture(Job *job, Call *call)
{
    g_autoptr(Person) person = call_person(job, call);
    double days = COURSE_DAYS;
    bool there;

    if (person == NULL || !call_number(call, "days", 1, COURSE_DAYS_MOST, &days, &there))
        return false;
    return call_draw(
        call, drawing_of_picture(course_picture(job, person, (int)days), CHART_SVG, COURSE_WIDTH));
}

static const Movement *movement_of(const Stage *stage, const char *key)
{
    for (guint i = 0; i < stage->movements->len; i++) {
        const Movement *movement = stage->movements->pdata[i];
        if (key == NULL || strcmp(movement->key, key) == 0) return movement;
    }
    return NULL;
}

/* movement: one of the stage's; without it the first. */
bool handle_setup_picture(Job *job, Call *call)
{
    g_autoptr(Person) person = call_person(job, call);
    g_autoptr(Ready) ready =
        person != NULL && person_has_plan(person) ? ready_judge(job, person) : NULL;
    const char *key = call_text(call, "movement");

    if (person == NULL) return false;
    if (ready == NULL)
        return call_fail(call, EXIT_NO_SUCH, "plan", person->id, "this client has no plan");
    const Movement *movement = movement_of(ready->ask.stage, key);
    if (movement == NULL)
        return call_fail(call, EXIT_NO_SUCH, "movement", key, "is none of stage %s",
                         ready->ask.stage->key);
    Picture *picture = pictures_setup(job, person, ready, movement, clinic_pack(job));
    if (picture == NULL)
        return call_fail(call, EXIT_NO_SUCH, "movement", movement->key,
                         "is not drawn: it is done standing, or without a set-up");
    return call_draw(call, drawing_of_picture(picture, CHART_SVG, SETUP_WIDTH));
}

json_t *setup_picture_json(Job *job, const Person *person, const Ready *ready,
                           const Movement *movement)
{
    g_autoptr(Picture) picture = pictures_setup(job, person, ready, movement, clinic_pack(job));

    return picture != NULL ? json_string(picture->alt) : json_null();
}
