/* SPDX-License-Identifier: Apache-2.0 */
/* Who: Patient, Practitioner, Consent, Provenance. */
#include <string.h>

#include "adapters/records/fhir_part.h"
#include "core/ledger/id.h"

static json_t *telecom(const FhirClient *client)
{
    const char *phone = fhir_setting(client, "phone"), *email = fhir_setting(client, "email");
    const char *channel = fhir_setting(client, "channel");
    json_t *list = json_array();

    if (phone != NULL)
        json_array_append_new(list, json_pack("{s:s, s:s}", "system",
                                              g_strcmp0(channel, "phone") == 0 ? "phone" : "sms",
                                              "value", phone));
    if (email != NULL)
        json_array_append_new(list, json_pack("{s:s, s:s}", "system", "email", "value", email));
    if (json_array_size(list) > 0) return list;
    json_decref(list);
    return NULL;
}

static void patient(const FhirClient *client, const FhirOut *out)
{
    const char *zone = fhir_setting(client, "zone"), *language = fhir_setting(client, "language");
    int born = (int)fhir_number(client, "born");
    json_t *resource = fhir_resource("Patient", "", client->id, client->source);
    json_t *reach = telecom(client);

    if (zone != NULL)
        fhir_put(resource, "extension",
                 fhir_one(json_pack("{s:s, s:s}", "url",
                                    "http://hl7.org/fhir/StructureDefinition/timezone", "valueCode",
                                    zone)));
    fhir_put(resource, "identifier",
             fhir_one(json_pack("{s:s, s:s}", "system", FHIR_OWN "NamingSystem/client", "value",
                                client->id)));
    fhir_put(resource, "active", json_boolean(!client->ended));
    fhir_put(resource, "name", fhir_one(fhir_text(fhir_setting(client, "name"))));
    if (reach != NULL) fhir_put(resource, "telecom", reach);
    if (born > 0) {
        g_autofree char *year = g_strdup_printf("%04d", born);
        fhir_put_text(resource, "birthDate", year);
    }
    if (language != NULL)
        fhir_put(resource, "communication",
                 fhir_one(json_pack("{s:o, s:b}", "language",
                                    fhir_code("urn:ietf:bcp:47", language, NULL), "preferred", 1)));
    out->emit(resource, out->context);
}

static void consent(const FhirClient *client, const Row *contact, const FhirOut *out)
{
    const char *channel = row_text(contact, CONTACT_CHANNEL);
    const char *how = row_text(contact, CONTACT_CONSENT);
    g_autofree char *id = g_strconcat(client->id, "-", channel, NULL);
    g_autofree char *rule = g_strdup_printf("Messages by %s: %s", channel, how);
    json_t *resource = fhir_resource("Consent", "c-", id, client->source);

    fhir_put_text(resource, "status", client->stopped ? "inactive" : "active");
    fhir_put(resource, "scope",
             fhir_code(FHIR_TERMS "consentscope", "patient-privacy", "Privacy Consent"));
    fhir_put(resource, "category",
             fhir_one(fhir_code("http://loinc.org", "59284-0", "Consent Document")));
    fhir_put(resource, "patient", fhir_subject(client));
    if (!row_is_null(contact, CONTACT_CONSENT_AT))
        fhir_put_instant(resource, "dateTime", row_int(contact, CONTACT_CONSENT_AT));
    fhir_put(resource, "policyRule", fhir_text(rule));
    fhir_put(resource, "provision", json_pack("{s:s}", "type", "permit"));
    out->emit(resource, out->context);
}

void fhir_client(const FhirClient *client, const FhirOut *out)
{
    patient(client, out);
    for (guint i = 0; i < client->contacts->len; i++)
        if (!row_is_null(client->contacts->pdata[i], CONTACT_CONSENT))
            consent(client, client->contacts->pdata[i], out);
}

void fhir_provenance(const FhirClient *client, const char *event, const char *author, int64_t at_ms,
                     const FhirOut *out)
{
    json_t *resource = fhir_resource("Provenance", "v-", client->id, client->source);
    json_t *targets = fhir_one(fhir_subject(client));

    if (fhir_setting(client, "plan.programme") != NULL)
        json_array_append_new(targets, fhir_reference("CarePlan", "plan-", client->id));
    fhir_put(resource, "target", targets);
    fhir_put_instant(resource, "recorded", at_ms);
    fhir_put(
        resource, "agent",
        fhir_one(json_pack("{s:o, s:o}", "type",
                           fhir_code(FHIR_TERMS "provenance-participant-type", "author", "Author"),
                           "who", fhir_named(author))));
    fhir_put(resource, "entity",
             fhir_one(json_pack("{s:s, s:{s:{s:s, s:s}}}", "role", "source", "what", "identifier",
                                "system", FHIR_OWN "NamingSystem/event", "value", event)));
    out->emit(resource, out->context);
}

void fhir_people(const char *source, const FhirOut *out)
{
    g_autoptr(GList) names = g_hash_table_get_keys(out->people);

    names = g_list_sort(names, (GCompareFunc)strcmp);
    for (const GList *at = names; at != NULL; at = at->next) {
        g_autofree char *id = id_of("practitioner", at->data, NULL);
        json_t *resource = fhir_resource("Practitioner", "p-", id, source);
        fhir_put(resource, "name", fhir_one(fhir_text(at->data)));
        out->emit(resource, out->context);
    }
}
