/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/records/fhir_part.h"

#include <string.h>

#include "core/calendar/date.h"
#include "core/ledger/id.h"

/* R4: [A-Za-z0-9\-\.]{1,64} */
static char *plain_id(const char *prefix, const char *id)
{
    char *plain = g_strdup_printf("%s%.60s", prefix, id);

    for (char *at = plain; *at != '\0'; at++)
        if (!g_ascii_isalnum(*at) && *at != '-' && *at != '.') *at = '-';
    return plain;
}

json_t *fhir_resource(const char *type, const char *prefix, const char *id, const char *source)
{
    g_autofree char *own = plain_id(prefix, id);
    g_autofree char *profile = g_strconcat("http://hl7.org/fhir/StructureDefinition/", type, NULL);

    return json_pack("{s:s, s:s, s:{s:s, s:[s]}}", "resourceType", type, "id", own, "meta",
                     "source", source, "profile", profile);
}

json_t *fhir_reference(const char *type, const char *prefix, const char *id)
{
    g_autofree char *own = plain_id(prefix, id);
    g_autofree char *to = g_strconcat(type, "/", own, NULL);

    return json_pack("{s:s}", "reference", to);
}

json_t *fhir_subject(const FhirClient *client)
{
    return fhir_reference("Patient", "", client->id);
}

json_t *fhir_named(const char *text)
{
    return json_pack("{s:s}", "display", text != NULL && *text != '\0' ? text : "?");
}

json_t *fhir_practitioner(const FhirOut *out, const char *name)
{
    g_autofree char *id = id_of("practitioner", name, NULL);

    if (!g_hash_table_contains(out->people, name)) g_hash_table_add(out->people, g_strdup(name));
    json_t *reference = fhir_reference("Practitioner", "p-", id);
    fhir_put_text(reference, "display", name);
    return reference;
}

json_t *fhir_code(const char *system, const char *code, const char *display)
{
    return json_pack("{s:[{s:s, s:s, s:s*}], s:s}", "coding", "system", system, "code", code,
                     "display", display, "text", display != NULL ? display : code);
}

json_t *fhir_text(const char *text)
{
    return json_pack("{s:s}", "text", text);
}

json_t *fhir_one(json_t *value)
{
    return json_pack("[o]", value);
}

json_t *fhir_quantity(double value, const char *unit)
{
    return json_pack("{s:o, s:s, s:s, s:s}", "value",
                     value == (double)(int)value ? json_integer((int)value) : json_real(value),
                     "unit", unit, "system", FHIR_UNITS, "code", unit);
}

void fhir_put(json_t *resource, const char *field, json_t *value)
{
    json_object_set_new(resource, field, value);
}

void fhir_put_text(json_t *resource, const char *field, const char *text)
{
    if (text != NULL && *text != '\0') json_object_set_new(resource, field, json_string(text));
}

void fhir_put_instant(json_t *resource, const char *field, int64_t ms)
{
    g_autofree char *text = instant_format(ms);

    json_object_set_new(resource, field, json_string(text));
}

const char *fhir_setting(const FhirClient *client, const char *field)
{
    return json_string_value(g_hash_table_lookup(client->settings, field));
}

double fhir_number(const FhirClient *client, const char *field)
{
    return json_number_value(g_hash_table_lookup(client->settings, field));
}

json_t *fhir_medium(const char *channel)
{
    static const struct {
        const char *channel, *code, *display;
    } MEDIA[] = {{"email", "EMAILWRIT", "email"}, {"phone", "PHONE", "telephone"}};

    for (size_t i = 0; channel != NULL && i < G_N_ELEMENTS(MEDIA); i++)
        if (strcmp(channel, MEDIA[i].channel) == 0)
            return fhir_one(
                fhir_code(FHIR_TERMS "v3-ParticipationMode", MEDIA[i].code, MEDIA[i].display));
    /* R4's list has no code for a text message. */
    return fhir_one(fhir_text(channel != NULL ? channel : "?"));
}
