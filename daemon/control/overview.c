/* SPDX-License-Identifier: Apache-2.0 */
/* What a person opens the day with: whom to ring, and why osier did what it did. */
#include <string.h>

#include "adapters/store/find.h"
#include "adapters/store/find_people.h"
#include "adapters/store/find_record.h"
#include "adapters/store/find_work.h"
#include "core/watch/script.h"
#include "daemon/cli/cli.h"
#include "daemon/control/handlers.h"

/* --- calls --- */

static json_t *call_json(const Person *person, const char *why, const char *class, const char *ref,
                         json_t *reasons)
{
    json_t *ask = json_array();

    for (const char *const *line = call_script(why); *line != NULL; line++)
        json_array_append_new(ask, json_string(*line));
    return json_pack("{s:s, s:s, s:o, s:o, s:s, s:s?, s:s, s:o, s:o}", "client", person->id, "name",
                     person->name, "phone", json_text_or_null(person->address[CHANNEL_SMS]),
                     "needs", json_text_or_null(person->needs), "why", why, "class", class, "for",
                     ref, "reasons", reasons, "ask", ask);
}

/* Since when it is open, and who has it. */
static json_t *with_alert(json_t *document, const Row *alert)
{
    json_object_set_new(document, "at", json_instant(row_int(alert, ALERT_AT)));
    json_object_set_new(document, "state", json_string(row_text(alert, ALERT_STATE)));
    json_object_set_new(document, "taken_by", json_text_or_null(row_text(alert, ALERT_TAKEN_BY)));
    return document;
}

static void add_alerts(Job *job, json_t *list, guint most)
{
    g_autoptr(GPtrArray) alerts = find_alerts(job->tx, NULL, false);

    for (guint i = 0; i < alerts->len && json_array_size(list) < most; i++) {
        const Row *alert = alerts->pdata[i];
        g_autoptr(Person) person = person_load(job, row_text(alert, ALERT_CLIENT));
        if (person == NULL || strcmp(row_text(alert, ALERT_CLASS), "digest") == 0) continue;
        json_array_append_new(
            list, with_alert(call_json(person, row_text(alert, ALERT_KIND),
                                       row_text(alert, ALERT_CLASS), row_text(alert, ALERT_ID),
                                       json_parsed(row_text(alert, ALERT_REASONS))),
                             alert));
    }
}

/* Sessions of clients without text or mail, that nobody has reported yet. */
static void add_landlines(Job *job, json_t *list, guint most)
{
    g_autoptr(GPtrArray) due = find_due_kind(job->tx, "call");

    for (guint i = 0; i < due->len && json_array_size(list) < most; i++) {
        const Row *row = due->pdata[i];
        g_autoptr(Person) person = person_load(job, row_text(row, DUE_CLIENT));
        if (person != NULL && !person->ended && !person->held && !person->paused &&
            !person->stopped && !person->suspended)
            json_array_append_new(
                list, call_json(person, "session", NULL, row_text(row, DUE_KEY), json_array()));
    }
}

json_t *calls_json(Job *job, guint most)
{
    json_t *list = json_array();

    add_alerts(job, list, most);
    add_landlines(job, list, most);
    return list;
}

bool handle_calls(Job *job, Call *call)
{
    return call_ok(call, calls_json(job, G_MAXUINT));
}

/* --- why --- */

static bool add_event(const Event *event, void *context)
{
    json_t *document = event_json(event);

    json_object_del(document, "digest");
    json_object_del(document, "salt");
    json_object_del(document, "body_hash");
    json_array_append_new(context, document);
    return true;
}

/* The events that are about the id, or whose body names it, oldest first. */
static json_t *events_about(Job *job, const char *id, const char *client)
{
    json_t *list = json_array();
    g_autofree char *named = g_strdup_printf("%%%s%%", id);

    tx_events(job->tx, "subject = ?1 OR ((?2 IS NULL OR subject = ?2) AND body LIKE ?3)", add_event,
              list, "ttt", id, client, named);
    return list;
}

typedef struct {
    TableId table;
    const char *what;
    int client_column; /* -1: none */
    int reasons_column;
} Kind;

static const Kind KINDS[] = {
    {TABLE_ALERT, "alert", ALERT_CLIENT, ALERT_REASONS},
    {TABLE_SESSION, "session", SESSION_CLIENT, -1},
    {TABLE_REPLY, "reply", REPLY_CLIENT, REPLY_READING},
    {TABLE_OUTBOX, "message", OUTBOX_CLIENT, OUTBOX_REASONS},
    {TABLE_MESSAGE, "message", MESSAGE_CLIENT, -1},
};

bool handle_why(Job *job, Call *call)
{
    char *client = NULL;

    for (size_t i = 0; i < G_N_ELEMENTS(KINDS); i++) {
        g_autofree char *id = NULL;
        int found = find_by_prefix(job->tx, KINDS[i].table, call->id[0], &id);
        if (found > 1)
            return call_fail(call, EXIT_NO_SUCH, "id", call->id[0],
                             "several begin so; give more of the id");
        if (found == 0) continue;
        g_autoptr(Row) row = tx_get_text(job->tx, KINDS[i].table, id);
        if (row == NULL) return call_lost(job);
        const char *about = row_text(row, KINDS[i].client_column);
        json_t *reasons = KINDS[i].reasons_column >= 0
                              ? json_parsed(row_text(row, KINDS[i].reasons_column))
                              : json_null();
        return call_ok(call, json_pack("{s:s, s:s, s:o, s:o, s:s, s:o, s:o}", "what", KINDS[i].what,
                                       "id", id, "client", json_text_or_null(about), "name",
                                       json_name_of(job, about), "zone", job->clinic->zone,
                                       "reasons", reasons, "events", events_about(job, id, about)));
    }
    if (find_client_by_prefix(job->tx, call->id[0], &client) == 1) {
        json_t *events = events_about(job, client, client);
        call_ok(call, json_pack("{s:s, s:s, s:s, s:o, s:s, s:n, s:o}", "what", "client", "id",
                                client, "client", client, "name", json_name_of(job, client), "zone",
                                job->clinic->zone, "reasons", "events", events));
        g_free(client);
        return true;
    }
    g_free(client);
    return call_fail(call, EXIT_NO_SUCH, "id", call->id[0], "nothing has that id");
}
