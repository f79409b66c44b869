/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/records/fhir_in_part.h"

#include <string.h>

#include "adapters/records/fhir_part.h"

const char *fhir_in_text(const json_t *object, const char *field)
{
    return json_string_value(json_object_get(object, field));
}

const char *fhir_in_id(const json_t *resource)
{
    const char *id = fhir_in_text(resource, "id");

    return id != NULL ? id : "?";
}

static void put(json_t *fields, const char *name, const char *text)
{
    if (text != NULL && *text != '\0') json_object_set_new(fields, name, json_string(text));
}

static const json_t *first(const json_t *object, const char *field)
{
    return json_array_get(json_object_get(object, field), 0);
}

/* The first coding's code of a CodeableConcept. */
static const char *code_of(const json_t *concept)
{
    return fhir_in_text(first(concept, "coding"), "code");
}

/* The value of an extension by its url. */
static const char *extension(const json_t *element, const char *url, const char *value)
{
    size_t i;
    json_t *item;

    json_array_foreach(json_object_get(element, "extension"), i, item)
    {
        if (g_strcmp0(fhir_in_text(item, "url"), url) == 0) return fhir_in_text(item, value);
    }
    return NULL;
}

/* --- who -------------------------------------------------------------------------------------- */

static void put_name(const json_t *resource, json_t *fields)
{
    const json_t *name = first(resource, "name");
    const char *text = fhir_in_text(name, "text"), *family = fhir_in_text(name, "family");
    const char *given = json_string_value(first(name, "given"));

    if (text != NULL) {
        put(fields, "name", text);
        return;
    }
    g_autofree char *both =
        g_strdup_printf("%s %s", given != NULL ? given : "", family != NULL ? family : "");
    put(fields, "name", g_strstrip(both));
}

/* A number that takes texts is told from one that is only rung. */
static void put_telecom(const json_t *resource, json_t *fields)
{
    const char *channel = NULL;
    size_t i;
    json_t *item;

    json_array_foreach(json_object_get(resource, "telecom"), i, item)
    {
        const char *system = fhir_in_text(item, "system"), *value = fhir_in_text(item, "value");
        bool sms =
            g_strcmp0(system, "sms") == 0 || g_strcmp0(fhir_in_text(item, "use"), "mobile") == 0;
        if (g_strcmp0(system, "email") == 0 && json_object_get(fields, "email") == NULL)
            put(fields, "email", value);
        if (!sms && g_strcmp0(system, "phone") != 0) continue;
        if (g_strcmp0(channel, "sms") == 0) continue;
        put(fields, "phone", value);
        channel = sms ? "sms" : "phone";
    }
    if (channel == NULL && json_object_get(fields, "email") != NULL) channel = "email";
    put(fields, "channel", channel);
}

json_t *fhir_in_patient(const json_t *resource)
{
    const char *born = fhir_in_text(resource, "birthDate");
    const char *language = code_of(json_object_get(first(resource, "communication"), "language"));
    json_t *fields = json_object();

    put_name(resource, fields);
    put_telecom(resource, fields);
    if (born != NULL && strlen(born) >= 4) {
        g_autofree char *year = g_strndup(born, 4);
        put(fields, "born", year);
    }
    if (language != NULL) {
        g_autofree char *short_form = g_strndup(language, strcspn(language, "-"));
        put(fields, "language", short_form);
    }
    put(fields, "zone",
        extension(resource, "http://hl7.org/fhir/StructureDefinition/timezone", "valueCode"));
    return fields;
}

/* As fhir_person.c writes it: "Messages by sms: signed form, R. Okafor, 2026-03-01". Another clinic's consent in other words is
 * for a person to judge. */
void fhir_in_consent(const json_t *resource, json_t *fields)
{
    static const char BEGIN[] = "Messages by ";
    const char *rule = fhir_in_text(json_object_get(resource, "policyRule"), "text");

    if (rule == NULL || !g_str_has_prefix(rule, BEGIN) ||
        g_strcmp0(fhir_in_text(resource, "status"), "active") != 0)
        return;
    json_t *list = json_object_get(fields, "consents");
    if (list == NULL) json_object_set_new(fields, "consents", list = json_array());
    json_array_append_new(list, json_string(rule + strlen(BEGIN)));
}

/* By which channel the reminders go. */
void fhir_in_medium(const json_t *resource, json_t *fields)
{
    const char *text = fhir_in_text(first(resource, "medium"), "text");

    if (g_strcmp0(text, "email") == 0 || g_strcmp0(text, "sms") == 0) put(fields, "channel", text);
}

/* --- what ------------------------------------------------------------------------------------- */

static void put_last_part(json_t *fields, const char *name, const char *uri)
{
    const char *slash = uri != NULL ? strrchr(uri, '/') : NULL;

    put(fields, name, slash != NULL ? slash + 1 : uri);
}

void fhir_in_plan(const json_t *resource, json_t *fields)
{
    size_t i;
    json_t *activity;

    put_last_part(fields, "programme", json_string_value(first(resource, "instantiatesUri")));
    put(fields, "start", fhir_in_text(json_object_get(resource, "period"), "start"));
    put(fields, "clinician", fhir_in_text(json_object_get(resource, "author"), "display"));
    put(fields, "review", extension(resource, FHIR_OWN "StructureDefinition/review", "valueDate"));
    json_array_foreach(json_object_get(resource, "activity"), i, activity)
    {
        const json_t *code = json_object_get(json_object_get(activity, "detail"), "code");
        if (g_strcmp0(fhir_in_text(first(code, "coding"), "system"), FHIR_OWN "CodeSystem/stage") ==
            0)
            put(fields, "stage", code_of(code));
    }
}

/* "08:30:00" ... as "08:30,18:30". */
static void put_times(const json_t *repeat, json_t *fields)
{
    g_autoptr(GString) at = g_string_new(NULL);
    size_t i;
    json_t *time;

    json_array_foreach(json_object_get(repeat, "timeOfDay"), i, time)
    {
        const char *text = json_string_value(time);
        if (text != NULL) g_string_append_printf(at, "%s%.5s", at->len > 0 ? "," : "", text);
    }
    put(fields, "at", at->str);
}

/* Timing.repeat as a rule, where it says days or weeks: {"period": 2, "periodUnit": "d"}, or days of the week. */
static void put_repeat(const json_t *repeat, json_t *fields)
{
    const char *unit = fhir_in_text(repeat, "periodUnit");
    int period = (int)json_number_value(json_object_get(repeat, "period"));
    g_autoptr(GString) days = g_string_new(NULL);
    size_t i;
    json_t *day;

    json_array_foreach(json_object_get(repeat, "dayOfWeek"), i, day)
    {
        g_autofree char *name =
            g_ascii_strup(json_string_value(day) != NULL ? json_string_value(day) : "", -1);
        if (strlen(name) == 3)
            g_string_append_printf(days, "%s%.2s", days->len > 0 ? "," : ";BYDAY=", name);
    }
    bool weekly = days->len > 0 || g_strcmp0(unit, "wk") == 0;
    if (!weekly && (g_strcmp0(unit, "d") != 0 || period < 2)) return;
    g_autofree char *rule =
        g_strdup_printf("FREQ=%s;INTERVAL=%d%s", weekly ? "WEEKLY" : "DAILY",
                        g_strcmp0(unit, weekly ? "wk" : "d") == 0 ? MAX(period, 1) : 1, days->str);
    put(fields, "rule", rule);
}

void fhir_in_request(const json_t *resource, json_t *fields)
{
    const json_t *timing = json_object_get(resource, "occurrenceTiming");
    const json_t *repeat = json_object_get(timing, "repeat");
    const char *rule = extension(timing, FHIR_OWN "StructureDefinition/rule", "valueString");

    put_times(repeat, fields);
    if (rule != NULL)
        put(fields, "rule", rule);
    else
        put_repeat(repeat, fields);
    if (json_object_get(fields, "programme") == NULL)
        put_last_part(fields, "programme", json_string_value(first(resource, "instantiatesUri")));
    if (json_object_get(fields, "start") == NULL)
        put(fields, "start", fhir_in_text(json_object_get(repeat, "boundsPeriod"), "start"));
    if (json_object_get(fields, "stage") == NULL)
        put(fields, "stage", code_of(first(resource, "orderDetail")));
    put(fields, "side", code_of(first(resource, "bodySite")));
}

void fhir_in_goal(const json_t *resource, json_t *draft)
{
    const char *text = fhir_in_text(json_object_get(resource, "description"), "text");
    const json_t *target = json_object_get(first(resource, "target"), "detailQuantity");
    double value = json_number_value(json_object_get(target, "value"));
    const char *side = text == NULL                      ? NULL
                       : g_str_has_suffix(text, "left")  ? "goal_left_deg"
                       : g_str_has_suffix(text, "right") ? "goal_right_deg"
                                                         : NULL;

    if (side == NULL || value <= 0 || g_strcmp0(fhir_in_text(target, "unit"), "deg") != 0) return;
    json_t *goals = json_object_get(draft, "goals");
    if (goals == NULL) json_object_set_new(draft, "goals", goals = json_object());
    json_object_set_new(goals, side, json_real(value));
}

/* --- what is left ----------------------------------------------------------------------------- */

static bool is_taken(const char *type, const char *field)
{
    static const char *const EVERY[] = {"resourceType", "id", "meta", "text", NULL};
    static const char *const PATIENT[] = {"name",      "telecom",    "birthDate", "communication",
                                          "extension", "identifier", "active",    NULL};
    static const char *const PLAN[] = {
        "instantiatesUri", "status",   "intent", "title",     "subject", "period",
        "author",          "activity", "goal",   "extension", NULL};
    static const char *const REQUEST[] = {
        "instantiatesUri", "basedOn",          "status",    "intent",   "code", "orderDetail",
        "subject",         "occurrenceTiming", "requester", "bodySite", NULL};

    if (g_strv_contains(EVERY, field)) return true;
    return g_strv_contains(strcmp(type, "Patient") == 0    ? PATIENT
                           : strcmp(type, "CarePlan") == 0 ? PLAN
                                                           : REQUEST,
                           field);
}

/* Do all items of a list hold a text that begins so? */
static bool all_begin(const json_t *list, const char *field, const char *begin, const char * or)
{
    size_t i;
    json_t *item;

    json_array_foreach((json_t *)list, i, item)
    {
        const char *text = fhir_in_text(item, field);
        if (text == NULL || (!g_str_has_prefix(text, begin) && g_strcmp0(text, or) != 0))
            return false;
    }
    return true;
}

/* Was all of the field taken, so that nothing of it needs keeping? */
static bool is_taken_whole(const char *field, const json_t *value)
{
    if (strcmp(field, "extension") == 0)
        return all_begin(value, "url", FHIR_OWN,
                         "http://hl7.org/fhir/StructureDefinition/timezone");
    if (strcmp(field, "identifier") == 0) return all_begin(value, "system", FHIR_OWN, NULL);
    if (strcmp(field, "active") == 0) return json_is_true(value);
    if (strcmp(field, "name") == 0) return json_array_size(value) <= 1;
    if (strcmp(field, "telecom") == 0) return json_array_size(value) <= 2;
    if (strcmp(field, "code") == 0) return g_strcmp0(code_of(value), "229070002") == 0;
    return true;
}

void fhir_in_keep_rest(json_t *draft, const json_t *resource)
{
    const char *type = fhir_in_text(resource, "resourceType");
    json_t *left = json_object_get(json_object_get(draft, "draft"), "left");
    json_t *rest = json_object();
    const char *field;
    json_t *value;

    json_object_foreach((json_t *)resource, field, value)
    {
        if (!is_taken(type, field) || !is_taken_whole(field, value))
            json_object_set(rest, field, value);
    }
    json_object_set_new(left, type, rest);
}

/* --- the whole -------------------------------------------------------------------------------- */

static void settle_consent(json_t *fields)
{
    const char *channel = fhir_in_text(fields, "channel");
    json_t *consents = json_object_get(fields, "consents");
    g_autofree char *begin = g_strconcat(channel != NULL ? channel : "sms", ":", NULL);
    size_t i;
    json_t *consent;

    json_array_foreach(consents, i, consent)
    {
        if (g_str_has_prefix(json_string_value(consent), begin))
            json_object_set(fields, "consent", consent);
    }
    json_object_del(fields, "consents");
}

void fhir_in_settle(json_t *drafts)
{
    size_t i;
    json_t *draft;

    json_array_foreach(drafts, i, draft)
    {
        json_t *inner = json_object_get(draft, "draft");
        json_t *plan = json_object_get(inner, "plan");
        settle_consent(json_object_get(draft, "fields"));
        if (json_is_object(plan)) json_object_update(plan, json_object_get(inner, "goals"));
        json_object_del(inner, "goals");
        json_t *left = json_object_get(inner, "left");
        const char *type;
        json_t *rest;
        void *next;
        json_object_foreach_safe(left, next, type, rest)
        {
            if (json_object_size(rest) == 0) json_object_del(left, type);
        }
    }
}
