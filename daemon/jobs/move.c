/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/jobs/move.h"

#include "adapters/store/find_people.h"
#include "core/practice/programme.h"
#include "daemon/jobs/course.h"
#include "daemon/jobs/schedule.h"

static json_t *text_or_null(const char *text)
{
    return text != NULL ? json_string(text) : json_null();
}

void move_days(json_t *fields, const Stage *stage, const char *rule)
{
    json_object_set_new(fields, "rule", text_or_null(rule != NULL ? rule : stage_rule(stage)));
    json_object_set_new(fields, "days", json_string(rule != NULL ? "own" : "stage"));
}

void move_write(Job *job, const Person *person, const Stage *to, const char *by, json_t *readiness)
{
    json_t *body = json_pack("{s:s, s:s, s:s?}", "stage", to->key, "by", by, "from", person->stage);

    if (readiness != NULL) json_object_set_new(body, "readiness", readiness);
    if (person->days_by_stage && g_strcmp0(person->rule, stage_rule(to)) != 0) {
        json_t *fields = json_object();
        move_days(fields, to, NULL);
        json_object_set_new(body, "fields", fields);
    }
    schedule_overdue(job, person->id);
    g_autofree char *base = find_setting_base(job->tx, person->id);
    tx_append(job->tx, "plan.move", person->id, by, base, body);
    g_autoptr(Person) moved = person_again(job, person);
    schedule_next(job, moved, job->now_ms - 1);
    course_next(job, moved);
}
