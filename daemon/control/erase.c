/* SPDX-License-Identifier: Apache-2.0 */
/* osier client erase: asked for by a clinician of the duty list, with a reason; told what is lost first. */
#include "daemon/jobs/erase.h"
#include "daemon/cli/cli.h"
#include "daemon/control/handlers.h"

#define WHY_CHARS 400

bool handle_client_erase(Job *job, Call *call)
{
    g_autoptr(Person) person = call_person(job, call);
    const char *by =
        person != NULL ? call_by(call, "--by NAME, a clinician of the duty list") : NULL;
    const char *why = by != NULL ? call_need(call, "why", "--why TEXT, the reason") : NULL;

    if (why == NULL || !call_words(call, "why", why, WHY_CHARS)) return false;
    if (!duty_lists(job->clinic, by))
        return call_fail(call, EXIT_NOT_ALLOWED, "by", by,
                         "is not on the duty list; only a clinician of the clinic erases a client");
    g_autofree char *refused = erase_refused(job, person, why);
    if (refused != NULL)
        return call_fail(call, EXIT_NOT_ALLOWED, "client", person->id, "%s", refused);
    json_t *summary = summary_json(job, person, false);
    if (!erase_client(job, person, by, why)) {
        json_decref(summary);
        return call_fail(call, EXIT_IO, "client", person->id,
                         "the clinic folder cannot keep the list of erasures; nothing was erased");
    }
    return call_ok(call, json_pack("{s:s, s:b, s:o}", "client", person->id, "erased", true,
                                   "summary", summary));
}
