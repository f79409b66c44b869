/* SPDX-License-Identifier: Apache-2.0 */
/* Is a client ready, and the move that a clinician confirms. */
#include <string.h>

#include "adapters/store/find_people.h"
#include "daemon/cli/cli.h"
#include "daemon/control/handlers.h"
#include "daemon/jobs/ready.h"
#include "daemon/jobs/tell.h"

static Ready *judge(Job *job, Call *call, const Person *person)
{
    Ready *ready;

    if (person->programme == NULL) {
        call_fail(call, EXIT_NO_SUCH, "plan", person->id, "this client has no plan");
        return NULL;
    }
    ready = ready_judge(job, person);
    if (ready == NULL)
        call_fail(call, EXIT_SETTINGS, "stage", person->stage,
                  "is in no programme file of this clinic any more; set the plan again");
    return ready;
}

bool handle_ready(Job *job, Call *call)
{
    g_autoptr(Person) person = call_person(job, call);
    g_autoptr(Ready) ready = person != NULL ? judge(job, call, person) : NULL;

    return ready != NULL && call_ok(call, ready_json(person, ready));
}

static int place_of(const Programme *programme, const Stage *stage)
{
    for (int i = 0; i < programme_stages(programme); i++)
        if (programme_stage_at(programme, i) == stage) return i;
    g_assert_not_reached();
}

/* A clinician may overrule the verdict, but not the screen, a hold, or a fresh screen that is due. */
static bool check_move(Call *call, const Person *person, const Ready *ready, const Stage *stage,
                       bool onwards)
{
    const char *because = NULL;

    if (person->ended)
        return call_fail(call, EXIT_NOT_ALLOWED, "plan", person->id, "the client has ended");
    if (!stage_allowed(ready->ask.programme, stage, &ready->screen->found, &because))
        return call_fail(call, EXIT_NOT_ALLOWED, "stage", stage->key, "the screen rules it out: %s",
                         because);
    if (onwards && ready->screen->due)
        return call_fail(call, EXIT_NOT_ALLOWED, "stage", stage->key,
                         "a fresh screen is due after hospital, fracture or operation: osier "
                         "screen %s --by NAME --floor yes|no ...",
                         person->id);
    if (onwards && ready->ask.holds > 0)
        return call_fail(call, EXIT_NOT_ALLOWED, "stage", stage->key,
                         "the client is on hold; close the alert first (osier alert close)");
    return true;
}

static char *words_of(const json_t *value, const char *none)
{
    if (json_is_string(value)) return g_strdup(json_string_value(value));
    return json_is_number(value) ? g_strdup_printf("%g", json_number_value(value)) : g_strdup(none);
}

/* What speaks against moving on, one line for each rule not met. */
static json_t *doubts_of(const Ready *ready, const Stage *stage, bool onwards)
{
    json_t *doubts = json_array();
    json_t *rules = practice_reasons_json(&ready->answer.reasons);
    bool agrees = ready->answer.verdict != READY_STAY && ready->answer.to == stage;
    size_t i;
    json_t *rule;

    if (onwards && !agrees) {
        g_autofree char *line = g_strdup_printf("readiness says %s, and a clinician moves on",
                                                ready_verdict_name(ready->answer.verdict));
        json_array_append_new(doubts, json_string(line));
    }
    json_array_foreach(rules, i, rule)
    {
        const char *name = json_string_value(json_object_get(rule, "rule"));
        bool back = g_str_has_prefix(name, "step back");
        if (!onwards || agrees || back == !json_is_true(json_object_get(rule, "met"))) continue;
        g_autofree char *value = words_of(json_object_get(rule, "value"), "nothing told");
        g_autofree char *limit = words_of(json_object_get(rule, "limit"), "none");
        g_autofree char *line = g_strdup_printf("%s: %s, limit %s", name, value, limit);
        json_array_append_new(doubts, json_string(line));
    }
    json_decref(rules);
    return doubts;
}

bool handle_plan_move(Job *job, Call *call)
{
    g_autoptr(Person) person = call_person(job, call);
    const char *key = person != NULL ? call_need(call, "stage", "--stage KEY") : NULL;
    const char *by =
        key != NULL ? call_need(call, "by", "--by NAME, the clinician who decides") : NULL;
    g_autoptr(Ready) ready = by != NULL ? judge(job, call, person) : NULL;

    if (ready == NULL) return false;
    const Programme *programme = ready->ask.programme;
    const Stage *stage = programme_stage(programme, key);
    if (stage == NULL)
        return call_fail(call, EXIT_DATA, "stage", key, "is no stage of %s", programme->key);
    if (stage == ready->ask.stage) return call_ok(call, plan_json(job, person));
    bool onwards = place_of(programme, stage) > place_of(programme, ready->ask.stage);
    if (!check_move(call, person, ready, stage, onwards)) return false;
    g_autofree char *base = find_setting_base(job->tx, person->id);
    tx_append(job->tx, "plan.move", person->id, by, base,
              json_pack("{s:s, s:s, s:s, s:o}", "stage", key, "by", by, "from",
                        ready->ask.stage->key, "readiness", ready_json(person, ready)));
    tell_moved(job, person, key, onwards, job->now_ms);
    g_autoptr(Person) moved = person_load(job, person->id);
    json_t *document = plan_json(job, moved);
    json_object_set_new(document, "warnings", doubts_of(ready, stage, onwards));
    return call_ok(call, document);
}
