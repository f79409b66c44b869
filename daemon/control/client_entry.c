/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/control/client_entry.h"

#include <string.h>

#include "core/clinic/address.h"
#include "core/clinic/consent.h"
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

/* "en, es, fr" (g_free) */
static char *languages_there(const Settings *settings)
{
    g_autoptr(GPtrArray) packs = settings_packs(settings, NULL);
    g_autoptr(GPtrArray) tags = g_ptr_array_new();

    for (guint i = 0; i < packs->len; i++)
        g_ptr_array_add(tags, (gpointer)pack_language(packs->pdata[i]));
    g_ptr_array_add(tags, NULL);
    return g_strjoinv(", ", (char **)tags->pdata);
}

static bool take_language(Job *job, Call *call, json_t *fields)
{
    const char *language = call_text(call, "language");

    if (language == NULL) return true;
    if (!settings_has_pack(job->settings, language)) {
        g_autofree char *there = languages_there(job->settings);
        return call_fail(call, EXIT_DATA, "language", language,
                         "there is no language pack of that name; there are: %s", there);
    }
    json_object_set_new(fields, "language", json_string(language));
    return true;
}

static bool take_channel(Call *call, json_t *fields)
{
    const char *name = call_text(call, "channel");
    Channel channel;

    if (name == NULL) return true;
    if (!channel_from_name(name, &channel))
        return call_fail(call, EXIT_DATA, "channel", name, "must be one of sms, email, phone");
    json_object_set_new(fields, "channel", json_string(name));
    return true;
}

/* Does the client want the sessions as a calendar file with the first mail? */
static bool take_calendar(Call *call, json_t *fields)
{
    const char *wish = call_text(call, "calendar");

    if (wish == NULL) return true;
    if (strcmp(wish, "yes") != 0 && strcmp(wish, "no") != 0)
        return call_fail(call, EXIT_DATA, "calendar", wish, "must be one of yes, no");
    json_object_set_new(fields, "calendar", json_boolean(strcmp(wish, "yes") == 0));
    return true;
}

/* plain: mail may name the movements and parts of the body; private: it does not. */
static bool take_wording(Call *call, json_t *fields)
{
    const char *wording = call_text(call, "wording");

    if (wording == NULL) return true;
    if (strcmp(wording, "plain") != 0 && strcmp(wording, "private") != 0)
        return call_fail(call, EXIT_DATA, "wording", wording, "must be one of plain, private");
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

/* The usual pain shifts the limit at which pain calls somebody. */
static bool may_set(Call *call)
{
    bool given = call_text(call, "usual_pain") != NULL ||
                 json_is_number(json_object_get(call->body, "usual_pain"));

    return !given || call_clinician(call, "usual_pain");
}

/* Each is looked at, so that whoever gathers faults gets them all. */
static bool take_fields(Job *job, Call *call, json_t *fields)
{
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
    return good;
}

/* How consent was given, by whom, when. A doubt is told to whoever enters it; of many rows at once nobody would read it. */
static bool judge_consent(Job *job, Call *call, const char *how, char **doubt)
{
    g_autofree char *part = NULL;
    const char *why;
    Day today = zone_local(job_clinic_zone(job), job->now_ms).day;
    ConsentState state = consent_state(how, today, &part, &why);

    if (state == CONSENT_WRONG || (state == CONSENT_OPEN && call->faults != NULL))
        return call_fail(call, EXIT_DATA, "consent", part, "%s", why);
    if (state == CONSENT_OPEN) *doubt = g_strdup_printf("consent: %s: %s", part, why);
    return true;
}

/* "sms: signed form, R. Okafor, 2026-03-01": the channel, and how. */
static bool take_consent(Job *job, Call *call, ClientEntry *entry)
{
    const char *consent = call_text(call, "consent");
    Channel known;

    if (consent == NULL) return true;
    const char *colon = strchr(consent, ':');
    g_autofree char *name = g_strndup(consent, colon != NULL ? (gsize)(colon - consent) : 0);
    g_autofree char *how = g_strstrip(g_strdup(colon != NULL ? colon + 1 : ""));
    g_strstrip(name);
    if (colon == NULL || !channel_from_name(name, &known) || *how == '\0')
        return call_fail(call, EXIT_DATA, "consent", consent,
                         "write the channel, then how, who took it and when: \"sms: signed form, "
                         "R. Okafor, 2026-03-01\"");
    if (!call_words(call, "consent", how, NEEDS_MAX_CHARS) ||
        !judge_consent(job, call, how, &entry->doubt))
        return false;
    entry->channel = g_steal_pointer(&name);
    entry->how = g_steal_pointer(&how);
    return true;
}

void client_entry_clear(ClientEntry *entry)
{
    json_decref(entry->fields);
    g_free(entry->channel);
    g_free(entry->how);
    g_free(entry->doubt);
    *entry = (ClientEntry){0};
}

/* By text, unless it is said otherwise; then there must be where to. */
static bool has_address(Call *call, json_t *fields)
{
    const char *channel = json_string_value(json_object_get(fields, "channel"));
    const char *missing = NULL;

    if (channel == NULL) json_object_set_new(fields, "channel", json_string(channel = "sms"));
    if (strcmp(channel, "sms") == 0 && json_object_get(fields, "phone") == NULL) missing = "phone";
    if (strcmp(channel, "email") == 0 && json_object_get(fields, "email") == NULL)
        missing = "email";
    return missing == NULL ||
           call_fail(call, EXIT_USE, missing, "", "is needed for the channel that was chosen");
}

static void default_to(json_t *fields, const char *field, const char *value)
{
    if (json_object_get(fields, field) == NULL)
        json_object_set_new(fields, field, json_string(value));
}

/* Whoever gathers faults gets them all; an address that was given wrongly is not asked for once more. */
static bool read_all(Job *job, Call *call, bool is_new, ClientEntry *entry)
{
    *entry = (ClientEntry){.fields = json_object()};
    bool good = take_fields(job, call, entry->fields);

    if (good && is_new) good = has_address(call, entry->fields);
    good &= take_consent(job, call, entry);
    if (!good) client_entry_clear(entry);
    return good;
}

bool client_entry_read(Job *job, Call *call, ClientEntry *entry)
{
    *entry = (ClientEntry){0};
    return may_set(call) && read_all(job, call, false, entry);
}

bool client_entry_read_new(Job *job, Call *call, ClientEntry *entry)
{
    *entry = (ClientEntry){0};
    bool named = call_need(call, "name", "--name \"Ada N.\"") != NULL;

    if ((!named && call->faults == NULL) || !may_set(call)) return false;
    if (!read_all(job, call, true, entry)) return false;
    if (!named) {
        client_entry_clear(entry);
        return false;
    }
    default_to(entry->fields, "zone", job->clinic->zone);
    default_to(entry->fields, "language", job->clinic->language);
    return true;
}
