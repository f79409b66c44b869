/* SPDX-License-Identifier: Apache-2.0 */
/* Plans that came in from another system, as drafts: a clinician confirms each after the screen, or drops it. A draft is a setting
 * of its client. */
#include "adapters/store/find_people.h"
#include "daemon/cli/cli.h"
#include "daemon/control/handlers.h"

static void add_draft(const TxResult *result, void *context)
{
    json_t *draft = json_parsed(result->text[1]);
    json_t *name = json_parsed(result->text[2]);

    if (json_is_object(draft))
        json_array_append_new(context,
                              json_pack("{s:s, s:O, s:O?, s:O?}", "client", result->text[0], "name",
                                        name, "plan", json_object_get(draft, "plan"), "left",
                                        json_object_get(draft, "left")));
    json_decref(draft);
    json_decref(name);
}

bool handle_draft_list(Job *job, Call *call)
{
    json_t *list = json_array();

    tx_select(
        job->tx,
        "SELECT d.subject, d.value, n.value FROM setting d JOIN setting n ON n.subject = "
        "d.subject AND n.field = 'name' WHERE d.field = 'draft' AND d.value IS NOT NULL ORDER "
        "BY d.subject",
        add_draft, list, "");
    return call_ok(call, list);
}

/* The client's draft (new reference); NULL after answering. */
static json_t *draft_of(Job *job, Call *call, const Person *person)
{
    g_autofree char *text = find_setting(job->tx, person->id, "draft");
    json_t *draft = json_parsed(text);

    if (json_is_object(draft)) return draft;
    json_decref(draft);
    call_fail(call, EXIT_NO_SUCH, "draft", person->id, "there is none for this client");
    return NULL;
}

static void clear_draft(Job *job, Call *call, const Person *person)
{
    tx_append(job->tx, "client.set", person->id, call_author(call), NULL,
              json_pack("{s:{s:n}}", "fields", "draft"));
}

bool handle_draft_drop(Job *job, Call *call)
{
    g_autoptr(Person) person = call_person(job, call);

    if (person == NULL || call_by(call, "--by \"R. Okafor\"") == NULL) return false;
    json_t *draft = draft_of(job, call, person);
    if (draft == NULL) return false;
    json_decref(draft);
    clear_draft(job, call, person);
    return call_ok(call, json_pack("{s:s, s:b}", "client", person->id, "dropped", 1));
}

/* The draft's plan with what the call says otherwise, set as any other plan is: after a screen, within the quiet hours. */
bool handle_draft_confirm(Job *job, Call *call)
{
    g_autoptr(Person) person = call_person(job, call);

    if (person == NULL || !call_clinician(call, "confirming a plan") ||
        call_by(call, "--by \"R. Okafor\"") == NULL)
        return false;
    json_t *draft = draft_of(job, call, person);
    if (draft == NULL) return false;
    json_t *plan = json_object_get(draft, "plan");
    if (!json_is_object(plan)) {
        json_decref(draft);
        return call_fail(call, EXIT_DATA, "draft", person->id,
                         "holds no plan; set one, then drop the draft");
    }
    json_object_update_missing(call->body, plan);
    json_decref(draft);
    if (!handle_plan_set(job, call)) return false;
    clear_draft(job, call, person);
    return true;
}
