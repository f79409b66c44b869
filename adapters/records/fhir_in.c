/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/records/fhir_in.h"

#include <string.h>

#include "adapters/records/fhir_in_part.h"

/* --- reading ---------------------------------------------------------------------------------- */

static void add_resource(json_t *list, json_t *resource, GPtrArray *faults)
{
    long row = (long)json_array_size(list) + 1;

    if (!json_is_string(json_object_get(resource, "resourceType"))) {
        sheet_fault(faults, row, "", "", "is no FHIR resource");
        return;
    }
    json_array_append(list, resource);
}

static void add_entries(json_t *list, const json_t *bundle, GPtrArray *faults)
{
    size_t i;
    json_t *entry;

    json_array_foreach(json_object_get(bundle, "entry"), i, entry)
    {
        add_resource(list, json_object_get(entry, "resource"), faults);
    }
}

static bool is_bundle(const json_t *resource)
{
    return g_strcmp0(fhir_in_text(resource, "resourceType"), "Bundle") == 0;
}

/* One resource a line. */
static void add_lines(json_t *list, const char *bytes, gsize length, GPtrArray *faults)
{
    const char *end = bytes + length;

    for (long row = 1; bytes < end; row++) {
        const char *stop = memchr(bytes, '\n', (size_t)(end - bytes));
        size_t size = (size_t)((stop != NULL ? stop : end) - bytes);
        json_error_t error;
        json_t *resource =
            size > 1 ? json_loadb(bytes, size, JSON_REJECT_DUPLICATES, &error) : NULL;
        if (resource != NULL)
            add_resource(list, resource, faults);
        else if (size > 1)
            sheet_fault(faults, row, "", "", "is no JSON: %s", error.text);
        json_decref(resource);
        bytes += size + 1;
    }
}

/* What only releases before or after R4 have (HL7 FHIR change logs of STU3, R4 and R5; from memory). */
static const char *other_version(const json_t *resource)
{
    static const struct {
        const char *type, *field, *version;
    } SIGNS[] = {
        {"Patient", "animal", "STU3"},
        {"CarePlan", "definition", "STU3"},
        {"CarePlan", "context", "STU3"},
        {"ServiceRequest", "requisitionIdentifier", "STU3"},
    };
    const char *type = fhir_in_text(resource, "resourceType");
    const char *profile = json_string_value(
        json_array_get(json_object_get(json_object_get(resource, "meta"), "profile"), 0));

    if (strcmp(type, "ProcedureRequest") == 0) return "STU3";
    if (profile != NULL && strstr(profile, "/fhir/3.0/") != NULL) return "STU3";
    if (profile != NULL && strstr(profile, "/fhir/5.0/") != NULL) return "R5";
    for (size_t i = 0; i < G_N_ELEMENTS(SIGNS); i++)
        if (strcmp(type, SIGNS[i].type) == 0 && json_object_get(resource, SIGNS[i].field) != NULL)
            return SIGNS[i].version;
    if (strcmp(type, "ServiceRequest") == 0 &&
        json_object_get(json_object_get(resource, "code"), "concept") != NULL)
        return "R5";
    if (strcmp(type, "CarePlan") == 0 &&
        json_object_get(json_array_get(json_object_get(resource, "activity"), 0),
                        "plannedActivityReference") != NULL)
        return "R5";
    return NULL;
}

static void check_versions(const json_t *list, GPtrArray *faults)
{
    size_t i;
    json_t *resource;

    json_array_foreach((json_t *)list, i, resource)
    {
        const char *version = other_version(resource);
        if (version != NULL)
            sheet_fault(faults, (long)i + 1, fhir_in_text(resource, "resourceType"),
                        fhir_in_id(resource), "is of FHIR %s; only R4 (4.0.1) is read", version);
    }
}

json_t *fhir_in_read(const char *bytes, gsize length, GPtrArray *faults)
{
    json_error_t error;
    json_t *whole = json_loadb(bytes, length, JSON_REJECT_DUPLICATES, &error);
    json_t *list = json_array();

    if (whole != NULL && is_bundle(whole))
        add_entries(list, whole, faults);
    else if (whole != NULL)
        add_resource(list, whole, faults);
    else
        add_lines(list, bytes, length, faults);
    json_decref(whole);
    check_versions(list, faults);
    if (json_array_size(list) > 0) return list;
    if (faults->len == 0) sheet_fault(faults, 0, "", "", "holds no resources");
    json_decref(list);
    return NULL;
}

/* --- drafts ----------------------------------------------------------------------------------- */

typedef struct {
    GHashTable *drafts; /* "Patient/ID" -> draft, lent */
    json_t *list;
    json_t *other;
    GPtrArray *faults;
} Taking;

static void count_other(Taking *taking, const char *type)
{
    json_int_t before = json_integer_value(json_object_get(taking->other, type));

    json_object_set_new(taking->other, type, json_integer(before + 1));
}

/* The draft that a resource is about, or NULL after a fault. */
static json_t *draft_of(Taking *taking, long row, const json_t *resource, const char *field)
{
    const char *to = fhir_in_text(json_object_get(resource, field), "reference");
    const char *last = to != NULL ? g_strrstr(to, "Patient/") : NULL;
    json_t *draft = last != NULL ? g_hash_table_lookup(taking->drafts, last) : NULL;

    if (draft == NULL)
        sheet_fault(taking->faults, row, fhir_in_text(resource, "resourceType"),
                    to != NULL ? to : "", "%s",
                    to != NULL ? "leads nowhere: no such Patient in the file"
                               : "does not say whom it is about");
    return draft;
}

static void take_patient(Taking *taking, long row, const json_t *resource)
{
    char *key = g_strconcat("Patient/", fhir_in_id(resource), NULL);

    if (g_hash_table_contains(taking->drafts, key)) {
        sheet_fault(taking->faults, row, "Patient", fhir_in_id(resource), "stands twice");
        g_free(key);
        return;
    }
    if (json_is_true(json_object_get(resource, "deceasedBoolean")) ||
        json_object_get(resource, "deceasedDateTime") != NULL)
        sheet_fault(taking->faults, row, "Patient", fhir_in_id(resource), "has died");
    json_t *draft = json_pack("{s:o, s:{s:n, s:{}}, s:I}", "fields", fhir_in_patient(resource),
                              "draft", "plan", "left", "row", (json_int_t)row);
    fhir_in_keep_rest(draft, resource);
    json_array_append_new(taking->list, draft);
    g_hash_table_insert(taking->drafts, key, draft);
}

/* The plan's fields, made at need; a second plan of the same type is a fault. */
static json_t *plan_of(Taking *taking, long row, json_t *draft, const json_t *resource)
{
    json_t *inner = json_object_get(draft, "draft");
    const char *type = fhir_in_text(resource, "resourceType");

    if (json_object_get(json_object_get(inner, "left"), type) != NULL) {
        sheet_fault(taking->faults, row, type, fhir_in_id(resource),
                    "is a second one for the same patient; one plan at a time");
        return NULL;
    }
    if (!json_is_object(json_object_get(inner, "plan")))
        json_object_set_new(inner, "plan", json_object());
    return json_object_get(inner, "plan");
}

static void take_about(Taking *taking, long row, const json_t *resource)
{
    const char *type = fhir_in_text(resource, "resourceType");
    bool plan = strcmp(type, "CarePlan") == 0, request = strcmp(type, "ServiceRequest") == 0;
    bool consent = strcmp(type, "Consent") == 0, goal = strcmp(type, "Goal") == 0;

    if (!plan && !request && !consent && !goal && strcmp(type, "CommunicationRequest") != 0) {
        count_other(taking, type);
        return;
    }
    json_t *draft = draft_of(taking, row, resource, consent ? "patient" : "subject");
    if (draft == NULL) return;
    if (plan || request) {
        json_t *fields = plan_of(taking, row, draft, resource);
        if (fields == NULL) return;
        (plan ? fhir_in_plan : fhir_in_request)(resource, fields);
        fhir_in_keep_rest(draft, resource);
    } else if (consent) {
        fhir_in_consent(resource, json_object_get(draft, "fields"));
    } else if (goal) {
        fhir_in_goal(resource, json_object_get(draft, "draft"));
    } else {
        fhir_in_medium(resource, json_object_get(draft, "fields"));
    }
}

json_t *fhir_in_drafts(const json_t *resources, json_t *other, GPtrArray *faults)
{
    Taking taking = {.drafts = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL),
                     .list = json_array(),
                     .other = other,
                     .faults = faults};
    size_t i;
    json_t *resource;

    json_array_foreach((json_t *)resources, i, resource)
    {
        if (strcmp(fhir_in_text(resource, "resourceType"), "Patient") == 0)
            take_patient(&taking, (long)i + 1, resource);
    }
    json_array_foreach((json_t *)resources, i, resource)
    {
        if (strcmp(fhir_in_text(resource, "resourceType"), "Patient") != 0)
            take_about(&taking, (long)i + 1, resource);
    }
    g_hash_table_unref(taking.drafts);
    fhir_in_settle(taking.list);
    if (json_array_size(taking.list) == 0) sheet_fault(faults, 0, "", "", "holds no Patient");
    return taking.list;
}
