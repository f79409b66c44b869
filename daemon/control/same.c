/* SPDX-License-Identifier: Apache-2.0 */
/* osier client same: two ids are one client's, which two replicas entered while they were apart. */
#include <string.h>

#include "adapters/store/find.h"
#include "daemon/cli/cli.h"
#include "daemon/control/handlers.h"
#include "daemon/jobs/same.h"

json_t *also_json(Job *job, const Person *person)
{
    g_autoptr(GPtrArray) ids = tx_all_of(job->tx, person->id);
    json_t *also = json_array();

    for (guint i = 0; i < ids->len; i++)
        if (strcmp(ids->pdata[i], person->id) != 0)
            json_array_append_new(also, json_string(ids->pdata[i]));
    return also;
}

/* The other client; NULL after answering. */
static Person *other_person(Job *job, Call *call)
{
    const char *as = call_need(call, "as", "--as ID, the client that this one is too");
    g_autofree char *id = NULL;

    if (as == NULL) return NULL;
    int found = find_client_by_prefix(job->tx, as, &id);
    if (found == 1) return person_load(job, id);
    call_fail(call, EXIT_NO_SUCH, "as", as,
              found == 0 ? "there is no client of that id"
                         : "several begin so; give more of the id");
    return NULL;
}

/* Who says so reads at once how the client stands, and what the two differ in. */
static bool join(Job *job, Call *call, const char *client, const char *other, const char *by)
{
    tx_append(job->tx, "client.same_as", client, by, NULL,
              json_pack("{s:s, s:I, s:s}", "of", other, "at", (json_int_t)job->now_ms, "by", by));
    same_settle(job, client);
    g_autoptr(Person) person = person_load(job, client);
    if (person == NULL) return call_lost(job);
    json_t *document = client_json(person);
    json_object_set_new(document, "also", also_json(job, person));
    json_object_set_new(document, "bars", bars_json(person));
    json_object_set_new(document, "conflicts", conflicts_of(job, person->id));
    return call_ok(call, document);
}

bool handle_client_same(Job *job, Call *call)
{
    g_autoptr(Person) person = call_person(job, call);
    g_autoptr(Person) other = person != NULL ? other_person(job, call) : NULL;
    const char *by = other != NULL ? call_by(call, "--by NAME, who says so") : NULL;

    if (by == NULL || !call_clinician(call, "telling that two clients are one")) return false;
    if (strcmp(person->id, other->id) == 0)
        return call_fail(call, EXIT_DATA, "as", call_text(call, "as"), "is that client already");
    g_autofree char *id = g_strdup(person->id);
    return join(job, call, id, other->id, by);
}
