/* SPDX-License-Identifier: Apache-2.0 */
/* Clients: added, listed, shown, changed. */
#include "daemon/control/client_entry.h"
#include "daemon/control/handlers.h"

#include <string.h>

#include "adapters/store/find_people.h"
#include "core/ledger/id.h"
#include "daemon/cli/cli.h"
#include "daemon/jobs/reply.h"
#include "daemon/jobs/sharers.h"

/* --- written --- */

static void put_consent(Job *job, Call *call, const char *client, const ClientEntry *entry)
{
    if (entry->channel == NULL) return;
    tx_append(job->tx, "client.consent", client, call_author(call), NULL,
              json_pack("{s:s, s:s, s:s, s:I}", "channel", entry->channel, "text", entry->how, "by",
                        call_author(call), "at", (json_int_t)job->now_ms));
}

static void warn_of_address(Job *job, json_t *warnings, const char *client, const char *address)
{
    if (address == NULL) return;
    g_autoptr(GPtrArray) same = find_contacts_by_address(job->tx, address);

    for (guint i = 0; i < same->len; i++) {
        const char *other = row_text(same->pdata[i], CONTACT_CLIENT);
        if (strcmp(other, client) != 0)
            json_array_append_new(
                warnings,
                json_sprintf(strchr(address, '@') != NULL
                                 ? "%s is also the address of client %s: answers from it go to a "
                                   "person"
                                 : "%s is also the number of client %s: texts to each begin with a "
                                   "letter of their own, and an answer without it goes to a person",
                             address, other));
    }
}

/* What a person should know: of the consent, and that another client has the same address. client: "" while there is none. */
static json_t *warnings_of(Job *job, const char *client, const ClientEntry *entry)
{
    json_t *warnings = json_array();

    if (entry->doubt != NULL) json_array_append_new(warnings, json_string(entry->doubt));
    warn_of_address(job, warnings, client,
                    json_string_value(json_object_get(entry->fields, "phone")));
    warn_of_address(job, warnings, client,
                    json_string_value(json_object_get(entry->fields, "email")));
    return warnings;
}

/* Drawn at random from the part-th of so many parts of all ids. */
static char *new_client_id(Job *job, uint64_t part, uint64_t parts)
{
    uint64_t width = ID_CLIENT_COUNT / parts;

    for (;;) {
        g_autofree char *id =
            parts == 1 ? id_client(random_number(job->random, "client"))
                       : id_client_at(part * width + random_below(job->random, "client", width));
        g_autoptr(GPtrArray) taken = find_settings(job->tx, id);
        if (taken->len == 0) return g_steal_pointer(&id);
    }
}

char *client_put(Job *job, Call *call, const ClientEntry *entry, uint64_t part, uint64_t parts)
{
    char *id = new_client_id(job, part, parts);

    tx_append(job->tx, "client.set", id, call_author(call), NULL,
              json_pack("{s:O}", "fields", entry->fields));
    put_consent(job, call, id, entry);
    return id;
}

bool handle_client_add(Job *job, Call *call)
{
    g_auto(ClientEntry) entry = {0};

    if (!client_entry_read_new(job, call, &entry)) return false;
    json_t *warnings = warnings_of(job, "", &entry);
    g_autofree char *id = client_put(job, call, &entry, 0, 1);
    return call_ok(call, json_pack("{s:s, s:o}", "client", id, "warnings", warnings));
}

static void put_fields(Job *job, Call *call, const Person *person, const ClientEntry *entry)
{
    bool zone_changes = json_object_get(entry->fields, "zone") != NULL;
    g_autofree char *base = find_setting_base(job->tx, person->id);

    if (json_object_size(entry->fields) == 0) return;
    if (zone_changes) schedule_overdue(job, person->id);
    tx_append(job->tx, "client.set", person->id, call_author(call), base,
              json_pack("{s:O}", "fields", entry->fields));
    if (!zone_changes) return;
    g_autoptr(Person) moved = person_again(job, person);
    schedule_next(job, moved, job->now_ms - 1);
}

/* A channel that is chosen must lead somewhere; without consent to it nothing goes, and whoever chose it is told. */
static bool judge_channel(Call *call, const Person *person, const ClientEntry *entry,
                          json_t *warnings)
{
    const char *name = json_string_value(json_object_get(entry->fields, "channel"));
    Channel channel;

    if (name == NULL || !channel_from_name(name, &channel) || channel == CHANNEL_PHONE) return true;
    const char *field = channel == CHANNEL_EMAIL ? "email" : "phone";
    if (person->address[channel] == NULL && json_object_get(entry->fields, field) == NULL)
        return call_fail(call, EXIT_USE, field, "", "is needed for the channel that was chosen");
    if (!person->consent[channel] && g_strcmp0(entry->channel, name) != 0)
        json_array_append_new(
            warnings, json_sprintf("no consent to %s is recorded, so nothing is sent (osier client "
                                   "set %s --consent \"%s: how, who, when\")",
                                   name, person->id, name));
    return true;
}

/* What whoever had an address wrote bars a new one no more. */
static void put_addresses(Job *job, Call *call, const Person *person, const ClientEntry *entry)
{
    static const char *const FIELDS[] = {[CHANNEL_SMS] = "phone", [CHANNEL_EMAIL] = "email"};

    for (Channel channel = CHANNEL_SMS; channel <= CHANNEL_EMAIL; channel++) {
        const char *set = json_string_value(json_object_get(entry->fields, FIELDS[channel]));
        if (set != NULL && g_strcmp0(set, person->address[channel]) != 0)
            reply_address_set(job, person, channel, call_author(call));
    }
}

bool handle_client_set(Job *job, Call *call)
{
    g_autoptr(Person) person = call_person(job, call);
    g_auto(ClientEntry) entry = {0};

    if (person == NULL || !client_entry_read(job, call, &entry)) return false;
    if (json_object_size(entry.fields) == 0 && entry.channel == NULL)
        return call_fail(call, EXIT_USE, "client", person->id, "nothing to set was given");
    json_t *warnings = warnings_of(job, person->id, &entry);
    if (!judge_channel(call, person, &entry, warnings)) {
        json_decref(warnings);
        return false;
    }
    put_fields(job, call, person, &entry);
    put_consent(job, call, person->id, &entry);
    put_addresses(job, call, person, &entry);
    return call_ok(call, json_pack("{s:s, s:o}", "client", person->id, "warnings", warnings));
}

/* --- shown --- */

/* One word on whether messages go: the gravest that keeps them from it. */
static const char *standing(const Person *person)
{
    if (person->ended) return "ended";
    if (person->stopped) return "stopped";
    if (person->held) return "held";
    if (person->suspended) return "suspended";
    if (person->paused) return "paused";
    return person->programme != NULL ? "active" : "no plan";
}

static json_t *consents(const Person *person)
{
    json_t *list = json_array();

    for (Channel channel = CHANNEL_SMS; channel <= CHANNEL_PHONE; channel++)
        if (person->consent[channel])
            json_array_append_new(list, json_string(channel_name(channel)));
    return list;
}

json_t *client_json(const Person *person)
{
    return json_pack(
        "{s:s, s:s, s:s, s:s, s:s, s:o, s:o, s:o, s:s, s:o, s:o, s:o, s:o}", "client", person->id,
        "name", person->name, "zone", person->zone, "language", person->language, "channel",
        channel_name(person->channel), "phone", json_text_or_null(person->address[CHANNEL_SMS]),
        "email", json_text_or_null(person->address[CHANNEL_EMAIL]), "consent", consents(person),
        "standing", standing(person), "usual_pain",
        person->usual_pain >= 0 ? json_real(person->usual_pain) : json_null(), "needs",
        json_text_or_null(person->needs), "programme", json_text_or_null(person->programme),
        "stage", json_text_or_null(person->stage));
}

bool handle_client_list(Job *job, Call *call)
{
    g_autoptr(GPtrArray) ids = find_clients(job->tx);
    json_t *list = json_array();

    for (guint i = 0; i < ids->len; i++) {
        g_autoptr(Person) person = person_load(job, ids->pdata[i]);
        if (person != NULL) json_array_append_new(list, client_json(person));
    }
    return call_ok(call, list);
}

static json_t *bar_json(const Row *bar)
{
    return json_pack("{s:s, s:s, s:o, s:o, s:o}", "id", row_text(bar, BAR_ID), "kind",
                     row_text(bar, BAR_KIND), "since", json_instant(row_int(bar, BAR_AT)), "why",
                     json_text_or_null(row_text(bar, BAR_WHY)), "by",
                     json_text_or_null(row_text(bar, BAR_BY)));
}

json_t *bars_json(const Person *person)
{
    json_t *bars = json_array();

    for (guint i = 0; i < person->bars->len; i++)
        json_array_append_new(bars, bar_json(person->bars->pdata[i]));
    return bars;
}

bool handle_client_show(Job *job, Call *call)
{
    g_autoptr(Person) person = call_person(job, call);

    if (person == NULL) return false;
    json_t *document = client_json(person);
    json_object_set_new(document, "bars", bars_json(person));
    json_t *also = also_json(job, person);
    if (json_array_size(also) > 0) json_object_set(document, "also", also);
    json_decref(also);
    json_t *shares = sharers_json(job, person);
    if (shares != NULL) json_object_set_new(document, "shares", shares);
    json_object_set_new(document, "calendar", json_boolean(person->calendar));
    json_object_set_new(document, "wording", json_string(person->plain ? "plain" : "private"));
    json_object_set_new(document, "screen", screen_json(job, person->id));
    if (person->born > 0) json_object_set_new(document, "born", json_integer(person->born));
    if (person->leg_cm > 0) json_object_set_new(document, "leg_cm", json_real(person->leg_cm));
    if (person->stature_cm > 0)
        json_object_set_new(document, "stature_cm", json_real(person->stature_cm));
    json_object_set_new(document, "plan", plan_json(job, person));
    return call_ok(call, document);
}
