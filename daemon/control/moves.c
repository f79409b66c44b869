/* SPDX-License-Identifier: Apache-2.0 */
/* Is a client ready, and the move that a clinician confirms. */
#include <string.h>

#include "adapters/store/find_record.h"
#include "daemon/cli/cli.h"
#include "daemon/control/handlers.h"
#include "daemon/jobs/move.h"
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

/* Is the bar a hold that an alert of that kind has set? */
static bool hold_of(Job *job, const Row *bar, const char *kind)
{
    const char *cause = row_text(bar, BAR_CAUSE);
    g_autoptr(Row) alert = cause != NULL ? tx_get_text(job->tx, TABLE_ALERT, cause) : NULL;

    return alert != NULL && g_strcmp0(row_text(alert, ALERT_KIND), kind) == 0;
}

bool move_on_check(Job *job, Call *call, const Person *person, const Stage *stage, const char *but)
{
    g_autoptr(GPtrArray) alerts = find_alerts(job->tx, person->id, false);

    for (guint i = 0; i < person->bars->len; i++)
        if (strcmp(row_text(person->bars->pdata[i], BAR_KIND), "hold") == 0 &&
            (but == NULL || !hold_of(job, person->bars->pdata[i], but)))
            return call_fail(call, EXIT_NOT_ALLOWED, "stage", stage->key,
                             "the client is on hold; close the alert first (osier alert close)");
    for (guint i = 0; i < alerts->len; i++) {
        const char *kind = row_text(alerts->pdata[i], ALERT_KIND);
        if (g_strcmp0(kind, but) != 0)
            return call_fail(call, EXIT_NOT_ALLOWED, "stage", stage->key,
                             "nobody moves on over an open alert (%s); close it first: osier alert "
                             "close %s --outcome resume --by NAME",
                             kind, row_text(alerts->pdata[i], ALERT_CODE));
    }
    return true;
}

/* A clinician may overrule the verdict, but not the screen, an open alert, a hold, or a fresh screen that is due. */
static bool check_move(Job *job, Call *call, const Person *person, const Ready *ready,
                       const Stage *stage, bool onwards)
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
    return !onwards || move_on_check(job, call, person, stage, NULL);
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
    json_t *rules = reasons_json(&ready->answer.reasons);
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
    const char *by = key != NULL ? call_by(call, "--by NAME, the clinician who decides") : NULL;
    g_autoptr(Ready) ready = by != NULL ? judge(job, call, person) : NULL;

    if (ready == NULL) return false;
    const Programme *programme = ready->ask.programme;
    const Stage *stage = programme_stage(programme, key);
    if (stage == NULL) return call_no_stage(call, programme, key);
    if (stage == ready->ask.stage) return call_ok(call, plan_json(job, person));
    bool onwards = stage_is_later(programme, stage, ready->ask.stage);
    if (!check_move(job, call, person, ready, stage, onwards)) return false;
    move_write(job, person, stage, by, ready_json(person, ready));
    tell_moved(job, person, ready->ask.stage, stage, onwards, job->now_ms);
    g_autoptr(Person) moved = person_again(job, person);
    json_t *document = plan_json(job, moved);
    json_object_set_new(document, "warnings", doubts_of(ready, stage, onwards));
    return call_ok(call, document);
}
