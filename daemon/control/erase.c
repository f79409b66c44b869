/* SPDX-License-Identifier: Apache-2.0 */
/* osier client erase: asked for by a clinician of the duty list, with a reason; told what is lost first. */
#include <string.h>

#include "adapters/store/find_record.h"
#include "daemon/cli/cli.h"
#include "daemon/control/handlers.h"
#include "daemon/jobs/erase.h"

#define WHY_CHARS 400

static bool is_clinician(const Job *job, const char *name)
{
    for (guint i = 0; i < job->clinic->duty->len; i++)
        if (strcmp(((const DutyPerson *)job->clinic->duty->pdata[i])->name, name) == 0) return true;
    return false;
}

static json_t *sessions_by_state(Job *job, const char *client)
{
    g_autoptr(GPtrArray) rows = find_sessions(job->tx, client, "0000-01-01", "9999-12-31");
    json_t *counts = json_object();

    for (guint i = 0; i < rows->len; i++) {
        const char *state = row_text(rows->pdata[i], SESSION_STATE);
        json_int_t before = json_integer_value(json_object_get(counts, state));
        json_object_set_new(counts, state, json_integer(before + 1));
    }
    return counts;
}

static json_t *alerts_of(Job *job, const char *client)
{
    g_autoptr(GPtrArray) rows = find_alerts(job->tx, client, true);
    json_t *list = json_array();

    for (guint i = 0; i < rows->len; i++)
        json_array_append_new(list, alert_json(rows->pdata[i]));
    return list;
}

/* What the clinic may want in its own file before the words are gone. */
static json_t *summary_of(Job *job, const Person *person)
{
    json_t *summary = client_json(person);

    json_object_set_new(summary, "screen", screen_json(job, person->id));
    json_object_set_new(summary, "plan", plan_json(job, person));
    json_object_set_new(summary, "sessions", sessions_by_state(job, person->id));
    json_object_set_new(summary, "alerts", alerts_of(job, person->id));
    return summary;
}

bool handle_client_summary(Job *job, Call *call)
{
    g_autoptr(Person) person = call_person(job, call);

    return person != NULL && call_ok(call, summary_of(job, person));
}

bool handle_client_erase(Job *job, Call *call)
{
    g_autoptr(Person) person = call_person(job, call);
    const char *by =
        person != NULL ? call_by(call, "--by NAME, a clinician of the duty list") : NULL;
    const char *why = by != NULL ? call_need(call, "why", "--why TEXT, the reason") : NULL;

    if (why == NULL || !call_words(call, "why", why, WHY_CHARS)) return false;
    if (!is_clinician(job, by))
        return call_fail(call, EXIT_NOT_ALLOWED, "by", by,
                         "is not on the duty list; only a clinician of the clinic erases a client");
    g_autofree char *refused = erase_refused(job, person, why);
    if (refused != NULL)
        return call_fail(call, EXIT_NOT_ALLOWED, "client", person->id, "%s", refused);
    json_t *summary = summary_of(job, person);
    if (!erase_client(job, person, by, why)) {
        json_decref(summary);
        return call_fail(call, EXIT_IO, "client", person->id,
                         "the clinic folder cannot keep the list of erasures; nothing was erased");
    }
    return call_ok(call, json_pack("{s:s, s:b, s:o}", "client", person->id, "erased", true,
                                   "summary", summary));
}
