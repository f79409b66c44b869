/* SPDX-License-Identifier: Apache-2.0 */
/* Clients: added, listed, shown, changed. */
#include "daemon/control/handlers.h"

#include <string.h>

#include "adapters/store/find_people.h"
#include "core/clinic/address.h"
#include "core/clinic/consent.h"
#include "core/ledger/id.h"
#include "daemon/cli/cli.h"
#include "daemon/jobs/erase.h"

#define NAME_MAX_CHARS 80
#define NEEDS_MAX_CHARS 400

static bool take_words(Call *call, json_t *fields, const char *field, long most)
{
    const char *text = call_text(call, field);

    if (text == NULL) return true;
    if (!call_words(call, field, text, most)) return false;
    if (strchr(text, '\n') != NULL)
        return call_fail(call, EXIT_DATA, field, text, "must be one line");
    json_object_set_new(fields, field, json_string(text));
    return true;
}

static bool take_number(Call *call, json_t *fields, const char *field, double low, double high)
{
    double value;
    bool there;

    if (!call_number(call, field, low, high, &value, &there)) return false;
    if (there) json_object_set_new(fields, field, json_real(value));
    return true;
}

static bool take_zone(Job *job, Call *call, json_t *fields)
{
    const char *zone = call_text(call, "zone");

    if (zone == NULL) return true;
    if (zones_get(job->zones, zone) == NULL)
        return call_fail(call, EXIT_DATA, "zone", zone,
                         "is no zone of the system's database; write it as Europe/London");
    json_object_set_new(fields, "zone", json_string(zone));
    return true;
}

static bool take_language(Job *job, Call *call, json_t *fields)
{
    const char *language = call_text(call, "language");

    if (language == NULL) return true;
    if (!settings_has_pack(job->settings, language))
        return call_fail(call, EXIT_DATA, "language", language,
                         "there is no language pack of that name");
    json_object_set_new(fields, "language", json_string(language));
    return true;
}

static bool take_channel(Call *call, json_t *fields)
{
    const char *name = call_text(call, "channel");
    Channel channel;

    if (name == NULL) return true;
    if (!channel_from_name(name, &channel))
        return call_fail(call, EXIT_DATA, "channel", name, "is one of sms, email, phone");
    json_object_set_new(fields, "channel", json_string(name));
    return true;
}

/* Does the client want the sessions as a calendar file with the first mail? */
static bool take_calendar(Call *call, json_t *fields)
{
    const char *wish = call_text(call, "calendar");

    if (wish == NULL) return true;
    if (strcmp(wish, "yes") != 0 && strcmp(wish, "no") != 0)
        return call_fail(call, EXIT_DATA, "calendar", wish, "is one of yes, no");
    json_object_set_new(fields, "calendar", json_boolean(strcmp(wish, "yes") == 0));
    return true;
}

/* plain: mail may name the movements and parts of the body; private: it does not. */
static bool take_wording(Call *call, json_t *fields)
{
    const char *wording = call_text(call, "wording");

    if (wording == NULL) return true;
    if (strcmp(wording, "plain") != 0 && strcmp(wording, "private") != 0)
        return call_fail(call, EXIT_DATA, "wording", wording, "is one of plain, private");
    json_object_set_new(fields, "wording", json_string(wording));
    return true;
}

/* An address of somebody who was erased is not written to, unless that person comes back and says so anew. */
static bool take_returned(Job *job, Call *call, json_t *fields)
{
    static const char *const ADDRESSES[] = {"phone", "email"};
    const char *returned = call_text(call, "returned");

    if (!take_words(call, fields, "returned", NEEDS_MAX_CHARS)) return false;
    for (size_t i = 0; i < G_N_ELEMENTS(ADDRESSES) && returned == NULL; i++) {
        const char *address = json_string_value(json_object_get(fields, ADDRESSES[i]));
        if (erase_knows(job, address))
            return call_fail(call, EXIT_NOT_ALLOWED, ADDRESSES[i], address,
                             "is the address of somebody who was erased; where that person comes "
                             "back, or the number is another's now, say how you know: --returned "
                             "TEXT");
    }
    return true;
}

static bool take_addresses(Job *job, Call *call, json_t *fields)
{
    const char *phone = call_text(call, "phone");
    const char *email = call_text(call, "email");
    const char *why = NULL;
    bool good = true;

    if (phone != NULL) {
        g_autofree char *number = phone_e164(phone, job->clinic->country_code, &why);
        if (number == NULL)
            good = call_fail(call, EXIT_DATA, "phone", phone, "%s", why);
        else
            json_object_set_new(fields, "phone", json_string(number));
    }
    if (email != NULL && !mail_address_valid(email, &why)) {
        good = call_fail(call, EXIT_DATA, "email", email, "%s", why);
    } else if (email != NULL) {
        g_autofree char *lower = g_utf8_strdown(email, -1);
        json_object_set_new(fields, "email", json_string(lower));
    }
    return take_returned(job, call, fields) && good;
}

/* Reads every field that the call gives into an object for client.set. NULL after answering. */
static json_t *read_fields(Job *job, Call *call)
{
    /* The usual pain shifts the limit at which pain calls somebody. */
    if (call_text(call, "usual_pain") != NULL ||
        json_is_number(json_object_get(call->body, "usual_pain")))
        if (!call_clinician(call, "usual_pain")) return NULL;
    json_t *fields = json_object();
    /* Each is looked at, so that whoever gathers faults gets them all. */
    bool good = take_words(call, fields, "name", NAME_MAX_CHARS);
    good &= take_words(call, fields, "needs", NEEDS_MAX_CHARS);
    good &= take_zone(job, call, fields);
    good &= take_language(job, call, fields);
    good &= take_channel(call, fields);
    good &= take_calendar(call, fields);
    good &= take_wording(call, fields);
    good &= take_addresses(job, call, fields);
    good &= take_number(call, fields, "usual_pain", 0, 10);
    good &= take_number(call, fields, "stature_cm", 100, 230);
    good &= take_number(call, fields, "leg_cm", 40, 130);
    good &= take_number(call, fields, "born", 1900, 2100);

    if (good) return fields;
    json_decref(fields);
    return NULL;
}

static ConsentState state_of(Job *job, const char *text, char **part, const char **why)
{
    return consent_state(text, zone_local(job_clinic_zone(job), job->now_ms).day, part, why);
}

/* "sms: signed form, R. Okafor, 2026-03-01": the channel, and how consent was given, by whom, when.
 */
static bool read_consent(Job *job, Call *call, char **channel, char **how)
{
    const char *consent = call_text(call, "consent");
    Channel known;

    if (consent == NULL) return true;
    const char *colon = strchr(consent, ':');
    g_autofree char *name = g_strndup(consent, colon != NULL ? (gsize)(colon - consent) : 0);
    g_autofree char *text = g_strstrip(g_strdup(colon != NULL ? colon + 1 : ""));
    g_strstrip(name);
    if (colon == NULL || !channel_from_name(name, &known) || *text == '\0')
        return call_fail(call, EXIT_DATA, "consent", consent,
                         "write the channel, then how, who took it and when: \"sms: signed form, "
                         "R. Okafor, 2026-03-01\"");
    if (!call_words(call, "consent", text, NEEDS_MAX_CHARS)) return false;
    g_autofree char *part = NULL;
    const char *why;
    ConsentState state = state_of(job, text, &part, &why);
    /* Of many rows at once nobody would read a note. */
    if (state == CONSENT_WRONG || (state == CONSENT_OPEN && call->faults != NULL))
        return call_fail(call, EXIT_DATA, "consent", part, "%s", why);
    *channel = g_steal_pointer(&name);
    *how = g_steal_pointer(&text);
    return true;
}

static bool put_consent(Job *job, Call *call, const char *client)
{
    g_autofree char *channel = NULL;
    g_autofree char *how = NULL;

    if (!read_consent(job, call, &channel, &how)) return false;
    if (channel != NULL)
        tx_append(job->tx, "client.consent", client, call_author(call), NULL,
                  json_pack("{s:s, s:s, s:s, s:I}", "channel", channel, "text", how, "by",
                            call_author(call), "at", (json_int_t)job->now_ms));
    return true;
}

/* What a person should know: another client has the same phone, or the record of consent says no day on which it was given. */
static json_t *warnings_of(Job *job, Call *call, const char *client, const json_t *fields)
{
    static const char *const ADDRESSES[] = {"phone", "email"};
    json_t *warnings = json_array();
    g_autofree char *channel = NULL;
    g_autofree char *how = NULL;
    g_autofree char *part = NULL;
    const char *why;

    if (read_consent(job, call, &channel, &how) && how != NULL &&
        state_of(job, how, &part, &why) == CONSENT_OPEN) {
        g_autofree char *line = g_strdup_printf("consent: %s: %s", part, why);
        json_array_append_new(warnings, json_string(line));
    }
    for (size_t i = 0; i < G_N_ELEMENTS(ADDRESSES); i++) {
        const char *address = json_string_value(json_object_get(fields, ADDRESSES[i]));
        g_autoptr(GPtrArray) same =
            find_contacts_by_address(job->tx, address != NULL ? address : "");
        for (guint j = 0; j < same->len; j++) {
            const char *other = row_text(same->pdata[j], CONTACT_CLIENT);
            if (strcmp(other, client) == 0) continue;
            g_autofree char *line = g_strdup_printf(
                "%s is also the address of client %s: answers from it go to a person", address,
                other);
            json_array_append_new(warnings, json_string(line));
        }
    }
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

json_t *client_read(Job *job, Call *call)
{
    g_autofree char *consent_channel = NULL;
    g_autofree char *how = NULL;
    const char *name = call_need(call, "name", "--name \"Ada N.\"");

    if (name == NULL && call->faults == NULL) return NULL;
    json_t *fields = read_fields(job, call);
    bool good = read_consent(job, call, &consent_channel, &how) && name != NULL;
    if (fields == NULL) return NULL;
    const char *channel = json_string_value(json_object_get(fields, "channel"));
    if (channel == NULL) json_object_set_new(fields, "channel", json_string(channel = "sms"));
    const char *missing =
        strcmp(channel, "sms") == 0 && json_object_get(fields, "phone") == NULL     ? "phone"
        : strcmp(channel, "email") == 0 && json_object_get(fields, "email") == NULL ? "email"
                                                                                    : NULL;
    if (missing != NULL)
        good = call_fail(call, EXIT_USE, missing, "", "is needed for the channel that was chosen");
    if (!good) {
        json_decref(fields);
        return NULL;
    }
    if (json_object_get(fields, "zone") == NULL)
        json_object_set_new(fields, "zone", json_string(job->clinic->zone));
    if (json_object_get(fields, "language") == NULL)
        json_object_set_new(fields, "language", json_string(job->clinic->language));
    return fields;
}

char *client_put(Job *job, Call *call, json_t *fields, uint64_t part, uint64_t parts)
{
    char *id = new_client_id(job, part, parts);

    tx_append(job->tx, "client.set", id, call_author(call), NULL,
              json_pack("{s:o}", "fields", fields));
    put_consent(job, call, id); /* client_read has read it */
    return id;
}

bool handle_client_add(Job *job, Call *call)
{
    json_t *fields = client_read(job, call);

    if (fields == NULL) return false;
    json_t *warnings = warnings_of(job, call, "", fields);
    g_autofree char *id = client_put(job, call, fields, 0, 1);
    return call_ok(call, json_pack("{s:s, s:o}", "client", id, "warnings", warnings));
}

bool handle_client_set(Job *job, Call *call)
{
    g_autoptr(Person) person = call_person(job, call);

    if (person == NULL) return false;
    json_t *fields = read_fields(job, call);
    if (fields == NULL) return false;
    json_t *warnings = warnings_of(job, call, person->id, fields);
    bool some = json_object_size(fields) > 0;
    bool zone_changes = json_object_get(fields, "zone") != NULL;
    if (zone_changes) schedule_overdue(job, person->id);
    g_autofree char *base = find_setting_base(job->tx, person->id);
    if (some)
        tx_append(job->tx, "client.set", person->id, call_author(call), base,
                  json_pack("{s:O}", "fields", fields));
    json_decref(fields);
    if (!put_consent(job, call, person->id) || (!some && call_text(call, "consent") == NULL)) {
        json_decref(warnings);
        return call_fail(call, EXIT_USE, "client", person->id, "nothing to set was given");
    }
    if (zone_changes) {
        g_autoptr(Person) moved = person_load(job, person->id);
        schedule_next(job, moved, job->now_ms - 1);
    }
    return call_ok(call, json_pack("{s:s, s:o}", "client", person->id, "warnings", warnings));
}

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
        json_array_append_new(list, client_json(person));
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
