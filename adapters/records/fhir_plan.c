/* SPDX-License-Identifier: Apache-2.0 */
/* What is to be done: CarePlan with its goals and stage, the ServiceRequest for the sessions, and the CommunicationRequest for
 * the reminders. */
#include <string.h>

#include "adapters/records/fhir_part.h"

static const char *plan_status(const FhirClient *client)
{
    if (client->ended) return client->finished ? "completed" : "revoked";
    return client->waits || client->stopped ? "on-hold" : "active";
}

/* The times of day on days by a rule; the rule itself, which says more than R4's Timing can, stands beside it. */
static json_t *timing(const FhirClient *client)
{
    const json_t *times = g_hash_table_lookup(client->settings, "plan.times");
    const char *rule = fhir_setting(client, "plan.rule");
    const char *start = fhir_setting(client, "plan.start");
    json_t *of_day = json_array();
    json_t *repeat = json_object();
    json_t *timing = json_object();
    size_t i;
    json_t *time;

    json_array_foreach((json_t *)times, i, time)
    {
        g_autofree char *full = g_strconcat(json_string_value(time), ":00", NULL);
        json_array_append_new(of_day, json_string(full));
    }
    if (rule != NULL)
        fhir_put(timing, "extension",
                 fhir_one(json_pack("{s:s, s:s}", "url", FHIR_OWN "StructureDefinition/rule",
                                    "valueString", rule)));
    if (start != NULL) fhir_put(repeat, "boundsPeriod", json_pack("{s:s}", "start", start));
    if (json_array_size(of_day) > 0) {
        fhir_put(repeat, "timeOfDay", of_day);
    } else {
        json_decref(of_day);
    }
    fhir_put(timing, "repeat", repeat);
    return timing;
}

static json_t *programme_uri(const FhirClient *client)
{
    g_autofree char *uri =
        g_strconcat(FHIR_OWN "PlanDefinition/", fhir_setting(client, "plan.programme"), NULL);

    return json_pack("[s]", uri);
}

static const char *stage_of(const FhirClient *client)
{
    const char *stage = fhir_setting(client, "plan.stage");

    return stage != NULL ? stage : "?";
}

static void service_request(const FhirClient *client, const FhirOut *out)
{
    const char *clinician = fhir_setting(client, "plan.clinician");
    const char *side = fhir_setting(client, "plan.side");
    json_t *resource = fhir_resource("ServiceRequest", "request-", client->id, client->source);

    fhir_put(resource, "instantiatesUri", programme_uri(client));
    fhir_put(resource, "basedOn", fhir_one(fhir_reference("CarePlan", "plan-", client->id)));
    fhir_put_text(resource, "status", plan_status(client));
    fhir_put_text(resource, "intent", "order");
    fhir_put(
        resource, "code",
        fhir_code("http://snomed.info/sct", "229070002", "Stretching exercises (regime/therapy)"));
    fhir_put(resource, "orderDetail",
             fhir_one(fhir_code(FHIR_OWN "CodeSystem/stage", stage_of(client), NULL)));
    fhir_put(resource, "subject", fhir_subject(client));
    fhir_put(resource, "occurrenceTiming", timing(client));
    if (clinician != NULL) fhir_put(resource, "requester", fhir_practitioner(out, clinician));
    if (side != NULL) fhir_put(resource, "bodySite", fhir_one(fhir_code(FHIR_CODES, side, NULL)));
    out->emit(resource, out->context);
}

static json_t *goals(const FhirClient *client, const FhirOut *out)
{
    static const char *const SIDES[] = {"left", "right"};
    json_t *list = json_array();

    for (size_t i = 0; i < G_N_ELEMENTS(SIDES); i++) {
        g_autofree char *field = g_strconcat("plan.goal_", SIDES[i], NULL);
        g_autofree char *id = g_strconcat(client->id, "-", SIDES[i], NULL);
        g_autofree char *text = g_strdup_printf("Straight-leg raise, %s", SIDES[i]);
        double goal = fhir_number(client, field);
        if (goal <= 0) continue;
        json_t *resource = fhir_resource("Goal", "goal-", id, client->source);
        fhir_put_text(resource, "lifecycleStatus", client->ended ? "completed" : "active");
        fhir_put(resource, "description", fhir_text(text));
        fhir_put(resource, "subject", fhir_subject(client));
        fhir_put(resource, "target",
                 fhir_one(json_pack("{s:o, s:o}", "measure",
                                    fhir_code(FHIR_CODES, "leg-raise", "Straight-leg raise"),
                                    "detailQuantity", fhir_quantity(goal, "deg"))));
        out->emit(resource, out->context);
        json_array_append_new(list, fhir_reference("Goal", "goal-", id));
    }
    if (json_array_size(list) > 0) return list;
    json_decref(list);
    return NULL;
}

/* A plan's own status words, as an activity has them. */
static const char *activity_status(const FhirClient *client)
{
    const char *status = plan_status(client);

    if (strcmp(status, "active") == 0) return "in-progress";
    return strcmp(status, "revoked") == 0 ? "stopped" : status;
}

static void care_plan(const FhirClient *client, const FhirOut *out)
{
    const char *clinician = fhir_setting(client, "plan.clinician");
    const char *start = fhir_setting(client, "plan.start");
    const char *review = fhir_setting(client, "plan.review");
    json_t *aims = goals(client, out);
    json_t *resource = fhir_resource("CarePlan", "plan-", client->id, client->source);

    if (review != NULL)
        fhir_put(resource, "extension",
                 fhir_one(json_pack("{s:s, s:s}", "url", FHIR_OWN "StructureDefinition/review",
                                    "valueDate", review)));
    fhir_put(resource, "instantiatesUri", programme_uri(client));
    fhir_put_text(resource, "status", plan_status(client));
    fhir_put_text(resource, "intent", "plan");
    fhir_put_text(resource, "title", fhir_setting(client, "plan.programme"));
    fhir_put(resource, "subject", fhir_subject(client));
    if (start != NULL) fhir_put(resource, "period", json_pack("{s:s}", "start", start));
    if (clinician != NULL) fhir_put(resource, "author", fhir_practitioner(out, clinician));
    if (aims != NULL) fhir_put(resource, "goal", aims);
    fhir_put(resource, "activity",
             json_pack("[{s:o}, {s:{s:s, s:o, s:s}}]", "reference",
                       fhir_reference("ServiceRequest", "request-", client->id), "detail", "kind",
                       "ServiceRequest", "code",
                       fhir_code(FHIR_OWN "CodeSystem/stage", stage_of(client), NULL), "status",
                       activity_status(client)));
    out->emit(resource, out->context);
}

static void communication_request(const FhirClient *client, const FhirOut *out)
{
    const char *start = fhir_setting(client, "plan.start");
    json_t *resource =
        fhir_resource("CommunicationRequest", "reminders-", client->id, client->source);

    fhir_put(resource, "basedOn",
             fhir_one(fhir_reference("ServiceRequest", "request-", client->id)));
    fhir_put_text(resource, "status", plan_status(client));
    fhir_put(resource, "category",
             fhir_one(fhir_code(FHIR_TERMS "communication-category", "reminder", "Reminder")));
    fhir_put_text(resource, "priority", "routine");
    fhir_put(resource, "medium", fhir_medium(fhir_setting(client, "channel")));
    fhir_put(resource, "subject", fhir_subject(client));
    fhir_put(
        resource, "payload",
        fhir_one(json_pack("{s:s}", "contentString", "A reminder at the time of each session")));
    if (start != NULL) fhir_put(resource, "occurrencePeriod", json_pack("{s:s}", "start", start));
    fhir_put(resource, "recipient", fhir_one(fhir_subject(client)));
    out->emit(resource, out->context);
}

void fhir_plan(const FhirClient *client, const FhirOut *out)
{
    if (fhir_setting(client, "plan.programme") == NULL) return;
    care_plan(client, out);
    service_request(client, out);
    if (g_strcmp0(fhir_setting(client, "channel"), "phone") != 0)
        communication_request(client, out);
}
