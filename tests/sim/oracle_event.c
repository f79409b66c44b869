/* SPDX-License-Identifier: Apache-2.0 */
/* The rules on what is written into the ledger, looked at before it counts. */
#include <string.h>

#include "tests/sim/oracle_inside.h"

static const char *text(const json_t *body, const char *field)
{
    return json_string_value(json_object_get(body, field));
}

/* "accepted -> delivered; accepted -> failed (a receipt says so)", and every other fate is the last: what a gateway repeats
 * settles nothing again. */
static void a_fate_is_settled_once(Oracle *oracle, const json_t *body)
{
    const char *id = text(body, "message"), *fate = text(body, "fate");
    const ModelMessage *message =
        id != NULL ? g_hash_table_lookup(oracle->model->messages, id) : NULL;

    if (message == NULL || message->fate == NULL) return;
    if (strcmp(message->fate, "accepted") == 0 &&
        (g_strcmp0(fate, "delivered") == 0 || g_strcmp0(fate, "failed") == 0))
        return;
    trace_break(oracle->trace, "a fate is settled once", "%s %s goes from %s to %s", message->kind,
                id, message->fate, fate);
}

static const ModelBar *bar_of(const Oracle *oracle, const char *client, const char *id)
{
    const ModelClient *of = model_client(oracle->model, client);

    for (guint i = 0; of != NULL && i < of->bars->len; i++) {
        const ModelBar *bar = of->bars->pdata[i];
        if (g_strcmp0(bar->id, id) == 0) return bar;
    }
    return NULL;
}

/* "A stop, hold, pause ends only by an event that names it", and of its own sort: a start ends stops, a resume pauses and
 * suspensions, and a hold is lifted by a clinician: "no stretching reminders until a clinician lifts it". */
static void an_end_is_of_its_own_sort(Oracle *oracle, const Event *event, const json_t *body)
{
    static const char *const OWN[][3] = {{"client.start", "stop", "stop"},
                                         {"client.resume", "pause", "suspend"},
                                         {"hold.lift", "hold", "hold"}};
    const json_t *ends = json_object_get(body, "ends");
    size_t n;
    json_t *id;

    for (size_t i = 0; i < G_N_ELEMENTS(OWN); i++) {
        if (strcmp(event->kind, OWN[i][0]) != 0) continue;
        json_array_foreach((json_t *)ends, n, id)
        {
            const ModelBar *bar = bar_of(oracle, event->subject, json_string_value(id));
            if (bar == NULL ||
                (strcmp(bar->kind, OWN[i][1]) != 0 && strcmp(bar->kind, OWN[i][2]) != 0))
                trace_break(oracle->trace, "an end is of its own sort", "%s of client %s ends a %s",
                            event->kind, event->subject, bar != NULL ? bar->kind : "nothing");
        }
    }
    if (strcmp(event->kind, "hold.lift") == 0 &&
        (strcmp(event->author, "client") == 0 || strcmp(event->author, "osier") == 0))
        trace_break(oracle->trace, "a hold is lifted by a clinician", "of client %s by %s",
                    event->subject, event->author);
}

/* Who settles a reply with a number for the pain has answered the question for the client. */
static void a_person_tells_the_pain(Oracle *oracle, const Event *event, const json_t *body)
{
    const char *by = json_string_value(json_object_get(body, "by"));

    if (g_strcmp0(by, "client") == 0 || !json_is_number(json_object_get(body, "pain"))) return;
    for (guint i = oracle->some->len; i-- > 0;)
        if (strcmp(((SomePain *)oracle->some->pdata[i])->client, event->subject) == 0)
            g_ptr_array_remove_index(oracle->some, i);
}

/* "now" before "today" before "digest" */
static int rank(const char *class)
{
    return g_strcmp0(class, "now") == 0 ? 0 : g_strcmp0(class, "today") == 0 ? 1 : 2;
}

/* "One matter, one alert": what is open already, as grave or graver, is told again and not opened again. What is about nobody in
 * particular is not one matter. */
static void one_matter_is_one_alert(Oracle *oracle, const Event *event, const json_t *body)
{
    GHashTableIter each;
    void *value;

    if (g_strcmp0(text(body, "client"), "clinic") == 0) return;
    g_hash_table_iter_init(&each, oracle->model->alerts);
    while (g_hash_table_iter_next(&each, NULL, &value)) {
        const ModelAlert *open = value;
        if (!open->closed && g_strcmp0(open->client, text(body, "client")) == 0 &&
            g_strcmp0(open->kind, text(body, "kind")) == 0 &&
            rank(open->class) <= rank(text(body, "class")))
            trace_break(oracle->trace, "one matter, one alert", "%s of client %s: %s beside %s",
                        open->kind, open->client, event->subject, open->id);
    }
}

void oracle_judge_event(Oracle *oracle, const Event *event)
{
    json_t *body = json_loads(event->body, JSON_DECODE_ANY, NULL);

    if (strcmp(event->kind, "message.settled") == 0) a_fate_is_settled_once(oracle, body);
    if (strcmp(event->kind, "alert.opened") == 0) one_matter_is_one_alert(oracle, event, body);
    if (strcmp(event->kind, "report.made") == 0) a_person_tells_the_pain(oracle, event, body);
    if (json_object_get(body, "ends") != NULL) an_end_is_of_its_own_sort(oracle, event, body);
    json_decref(body);
}
