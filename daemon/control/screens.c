/* SPDX-License-Identifier: Apache-2.0 */
/* The screen: without one no plan starts, and a fresh one may bar a plan that runs. */
#include <string.h>

#include "adapters/store/find_people.h"
#include "core/practice/rescreen.h"
#include "daemon/cli/cli.h"
#include "daemon/control/handlers.h"
#include "daemon/desk/screened.h"
#include "daemon/jobs/alert.h"

#define FINDINGS_MOST 20
#define FINDING_CHARS 400

/* Findings are texts. False after answering. */
static bool check_findings(Call *call, const json_t *findings)
{
    size_t i;
    json_t *finding;

    if (findings != NULL && !json_is_array(findings))
        return call_fail(call, EXIT_DATA, "findings", "", "must be a list of texts");
    if (json_array_size(findings) > FINDINGS_MOST)
        return call_fail(call, EXIT_DATA, "findings", "", "are more than %d", FINDINGS_MOST);
    json_array_foreach((json_t *)findings, i, finding)
    {
        const char *text = json_string_value(finding);
        if (text == NULL || *text == '\0')
            return call_fail(call, EXIT_DATA, "findings", "", "must be texts, none of them empty");
        if (!call_words(call, "findings", text, FINDING_CHARS)) return false;
    }
    return true;
}

/* Where a plan runs and no longer suits what the screen has found, the client is on hold until a clinician has said how it
 * goes on: by setting the plan anew, or by closing the alert. The alert's id (g_free), or NULL. */
static char *bar_plan(Job *job, const Person *person, const Screened *before, const char *screen)
{
    const Programme *programme =
        person_has_plan(person) ? settings_programme(job->settings, person->programme) : NULL;
    const Stage *stage = programme != NULL && person->stage != NULL
                             ? programme_stage(programme, person->stage)
                             : NULL;
    Reasons reasons = {0};

    if (stage == NULL || before->row == NULL) return NULL;
    g_autoptr(Screened) now = screened_load(job, person->id);
    if (!rescreen_bars(programme, stage, person->set_up, &before->found, &now->found, &reasons))
        return NULL;
    json_t *list = json_array();
    for (int i = 0; i < reasons.n; i++)
        json_array_append_new(list,
                              reason_words(reasons.items[i].rule, reasons.items[i].value_words,
                                           reasons.items[i].limit_words));
    char *alert = alert_open(job, person,
                             &(Opening){.kind = SCREEN_MATTER,
                                        .class = ALERT_FOR_DIGEST,
                                        .hold = true,
                                        .cause = screen,
                                        .reasons = list});
    json_decref(list);
    return alert;
}

/* Clinicians of the house may be on no list; most often the name was mistyped, and the record would name nobody. */
static json_t *warnings_of(Job *job, const char *by)
{
    g_autofree char *name = clinician_named(job, by);
    json_t *warnings = json_array();

    if (name == NULL)
        json_array_append_new(
            warnings, json_sprintf("%s is neither a clinician with an account nor on the duty "
                                   "list; if the name is mistyped, screen anew",
                                   by));
    return warnings;
}

bool handle_screen(Job *job, Call *call)
{
    g_autoptr(Person) person = call_person(job, call);
    const char *by = person != NULL ? call_by(call, "--by NAME, the clinician who screened") : NULL;
    const char *floor = call_text(call, "floor");
    const json_t *findings = json_object_get(call->body, "findings");
    bool clear = json_is_true(json_object_get(call->body, "clear"));

    if (by == NULL || !check_findings(call, findings)) return false;
    if (floor == NULL || (strcmp(floor, "yes") != 0 && strcmp(floor, "no") != 0))
        return call_fail(call, EXIT_USE, "floor", floor,
                         "is yes or no: can the client get down to the floor and up again alone?");
    if (clear == (json_array_size(findings) > 0))
        return call_fail(call, EXIT_USE, "screen", "",
                         "give either --clear or at least one --finding TEXT");
    g_autoptr(Screened) before = screened_load(job, person->id);
    g_autofree char *id = g_strdup(
        tx_append(job->tx, "screen.done", person->id, by, NULL,
                  json_pack("{s:I, s:s, s:b, s:b, s:o}", "at", (json_int_t)job->now_ms, "by", by,
                            "floor", strcmp(floor, "yes") == 0, "clear", clear, "findings",
                            json_is_array(findings) ? json_deep_copy(findings) : json_array())));
    g_autofree char *alert = bar_plan(job, person, before, id);
    json_t *document = json_pack("{s:s, s:s, s:o}", "client", person->id, "screen", id, "warnings",
                                 warnings_of(job, by));
    if (alert != NULL) {
        json_object_set_new(document, "alert", json_string(alert));
        json_object_set_new(
            document, "plan",
            json_string("on hold: the screen has changed what suits; set the plan anew, or "
                        "close the alert with resume where it may go on as it is"));
    }
    return call_ok(call, document);
}

json_t *screen_json(Job *job, const char *client)
{
    g_autoptr(Row) screen = find_screen(job->tx, client);

    if (screen == NULL) return json_null();
    return json_pack("{s:o, s:s, s:o, s:o, s:o}", "at", json_instant(row_int(screen, SCREEN_AT)),
                     "by", row_text(screen, SCREEN_BY), "floor",
                     json_boolean(row_int(screen, SCREEN_FLOOR) != 0), "clear",
                     json_boolean(row_int(screen, SCREEN_CLEAR) != 0), "findings",
                     json_parsed(row_text(screen, SCREEN_FINDINGS)));
}
