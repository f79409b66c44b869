/* SPDX-License-Identifier: Apache-2.0 */
/* What was seen: Observation for reports, range and adherence, DetectedIssue for alerts. */
#include <math.h>
#include <string.h>

#include "adapters/records/fhir_part.h"
#include "core/calendar/date.h"

static json_t *observation(const FhirClient *client, const char *prefix, const char *id,
                           const char *category, json_t *code)
{
    json_t *resource = fhir_resource("Observation", prefix, id, client->source);

    fhir_put_text(resource, "status", "final");
    fhir_put(resource, "category",
             fhir_one(fhir_code(FHIR_TERMS "observation-category", category, NULL)));
    fhir_put(resource, "code", code);
    fhir_put(resource, "subject", fhir_subject(client));
    return resource;
}

/* Who said so: the client, or somebody of the clinic for the client. */
static void put_performer(json_t *resource, const FhirClient *client, const char *by,
                          const FhirOut *out)
{
    bool clients = by == NULL || *by == '\0' || strcmp(by, "client") == 0;

    if (!clients && (strcmp(by, "osier") == 0 || strcmp(by, "command") == 0)) return;
    fhir_put(resource, "performer",
             fhir_one(clients ? fhir_subject(client) : fhir_practitioner(out, by)));
}

/* --- reports ---------------------------------------------------------------------------------- */

static void emit_report(const FhirClient *client, const Row *report, const char *prefix,
                        json_t *code, const char *field, json_t *value, const FhirOut *out)
{
    const char *reply = row_text(report, REPORT_REPLY);
    json_t *resource = observation(client, prefix, row_text(report, REPORT_ID), "survey", code);

    fhir_put_instant(resource, "effectiveDateTime", row_int(report, REPORT_AT));
    put_performer(resource, client, row_text(report, REPORT_BY), out);
    fhir_put(resource, field, value);
    if (reply != NULL && *reply != '\0')
        fhir_put(resource, "note",
                 fhir_one(json_pack("{s:s+}", "text", "Read from Communication/r-", reply)));
    out->emit(resource, out->context);
}

/* LOINC 72514-3: 0-10 verbal numeric rating, reported. "some" pain has no number. */
static void emit_pain(const FhirClient *client, const Row *report, const char *pain,
                      const FhirOut *out)
{
    if (g_ascii_isdigit(pain[0]))
        emit_report(client, report, "pain-",
                    fhir_code("http://loinc.org", "72514-3",
                              "Pain severity - 0-10 verbal numeric rating [Score] - Reported"),
                    "valueQuantity", fhir_quantity(g_ascii_strtod(pain, NULL), "{score}"), out);
    else
        emit_report(client, report, "pain-",
                    fhir_code(FHIR_CODES, "pain-mentioned", "Pain, mentioned without a number"),
                    "valueString", json_string(pain), out);
}

void fhir_report(const FhirClient *client, const Row *report, const FhirOut *out)
{
    const char *done = row_text(report, REPORT_DONE), *pain = row_text(report, REPORT_PAIN);

    if (row_is_null(report, REPORT_AT)) return;
    if (done != NULL)
        emit_report(client, report, "done-",
                    fhir_code(FHIR_CODES, "session-done", "Was the session done?"),
                    "valueCodeableConcept", fhir_code(FHIR_CODES, done, NULL), out);
    if (!row_is_null(report, REPORT_INTENSITY))
        emit_report(client, report, "intensity-",
                    fhir_code(FHIR_CODES, "intensity", "Strength of the stretch, 0-10, reported"),
                    "valueQuantity", fhir_quantity(row_real(report, REPORT_INTENSITY), "{score}"),
                    out);
    if (pain != NULL && *pain != '\0') emit_pain(client, report, pain, out);
}

/* --- range ------------------------------------------------------------------------------------ */

void fhir_measure(const FhirClient *client, const Row *measure, const FhirOut *out)
{
    const char *movement = row_text(measure, MEASURE_MOVEMENT);
    const char *side = row_text(measure, MEASURE_SIDE);
    const char *method = row_text(measure, MEASURE_METHOD);
    const char *landmark = row_text(measure, MEASURE_LANDMARK);
    const char *unit = row_text(measure, MEASURE_UNIT);

    if (movement == NULL || row_is_null(measure, MEASURE_VALUE) || row_is_null(measure, MEASURE_AT))
        return;
    g_autofree char *display = g_strdup_printf("Range of movement: %s", movement);
    json_t *resource = observation(client, "range-", row_text(measure, MEASURE_ID), "exam",
                                   fhir_code(FHIR_CODES, movement, display));
    fhir_put_instant(resource, "effectiveDateTime", row_int(measure, MEASURE_AT));
    put_performer(resource, client, row_text(measure, MEASURE_BY), out);
    fhir_put(
        resource, "valueQuantity",
        fhir_quantity(row_real(measure, MEASURE_VALUE), g_strcmp0(unit, "cm") == 0 ? "cm" : "deg"));
    if (landmark != NULL && *landmark != '\0')
        fhir_put(resource, "note", fhir_one(json_pack("{s:s}", "text", landmark)));
    if (side != NULL) fhir_put(resource, "bodySite", fhir_code(FHIR_CODES, side, NULL));
    if (method != NULL) fhir_put(resource, "method", fhir_code(FHIR_CODES, method, NULL));
    out->emit(resource, out->context);
}

/* --- adherence -------------------------------------------------------------------------------- */

static void add_component(json_t *list, const char *code, json_t *quantity)
{
    json_array_append_new(list, json_pack("{s:o, s:o}", "code", fhir_code(FHIR_CODES, code, NULL),
                                          "valueQuantity", quantity));
}

/* To three places: what the counts can tell. */
static double rounded(double rate)
{
    return round(rate * 1000) / 1000;
}

static void put_month(json_t *resource, const char *month)
{
    g_autofree char *first = g_strconcat(month, "-01", NULL);
    int year, number, mday;
    Day day;

    if (!day_parse(first, &day)) return;
    day_to_civil(day + 31, &year, &number, &mday);
    g_autofree char *last = day_format(day + 31 - mday);
    fhir_put(resource, "effectivePeriod", json_pack("{s:s, s:s}", "start", first, "end", last));
}

void fhir_adherence(const FhirClient *client, const char *month, const SessionCounts *counts,
                    const FhirOut *out)
{
    Adherence adherence = adherence_of(*counts);
    const struct {
        const char *code;
        int count;
    } COUNTS[] = {
        {"done", adherence.done},       {"partly", adherence.partly},
        {"not", adherence.not },        {"silent", adherence.silent},
        {"unasked", adherence.unasked}, {"excused", adherence.excused},
    };
    g_autofree char *id = g_strconcat(client->id, "-", month, NULL);
    json_t *list = json_array();

    if (adherence.prescribed == 0) {
        json_decref(list);
        return;
    }
    for (size_t i = 0; i < G_N_ELEMENTS(COUNTS); i++)
        add_component(list, COUNTS[i].code, fhir_quantity(COUNTS[i].count, "{sessions}"));
    if (adherence.has_rate) {
        add_component(list, "low", fhir_quantity(rounded(adherence.low), "1"));
        add_component(list, "high", fhir_quantity(rounded(adherence.high), "1"));
    }
    json_t *resource =
        observation(client, "adherence-", id, "activity",
                    fhir_code(FHIR_CODES, "adherence",
                              "Adherence: sessions done of those that were due in a month"));
    put_month(resource, month);
    if (adherence.has_rate)
        fhir_put(resource, "valueQuantity", fhir_quantity(rounded(adherence.rate), "1"));
    fhir_put(resource, "component", list);
    out->emit(resource, out->context);
}

/* --- alerts ----------------------------------------------------------------------------------- */

static const char *severity_of(const char *class)
{
    if (g_strcmp0(class, "now") == 0) return "high";
    return g_strcmp0(class, "today") == 0 ? "moderate" : "low";
}

static json_t *mitigation(const char *action, const char *by, int64_t at_ms, const FhirOut *out)
{
    json_t *entry = json_pack("{s:o}", "action", fhir_code(FHIR_CODES, action, NULL));

    if (at_ms > 0) fhir_put_instant(entry, "date", at_ms);
    if (by != NULL && *by != '\0') fhir_put(entry, "author", fhir_practitioner(out, by));
    return entry;
}

void fhir_alert(const FhirClient *client, const char *source, const Row *alert, const FhirOut *out)
{
    const char *kind = row_text(alert, ALERT_KIND), *outcome = row_text(alert, ALERT_OUTCOME);
    const char *note = row_text(alert, ALERT_NOTE), *taken = row_text(alert, ALERT_TAKEN_BY);
    json_t *done = json_array();

    json_t *resource = fhir_resource("DetectedIssue", "a-", row_text(alert, ALERT_ID), source);
    fhir_put_text(resource, "status",
                  g_strcmp0(row_text(alert, ALERT_STATE), "closed") == 0 ? "final" : "preliminary");
    fhir_put(resource, "code", fhir_code(FHIR_CODES, kind != NULL ? kind : "?", NULL));
    fhir_put_text(resource, "severity", severity_of(row_text(alert, ALERT_CLASS)));
    if (client != NULL) fhir_put(resource, "patient", fhir_subject(client));
    if (!row_is_null(alert, ALERT_AT))
        fhir_put_instant(resource, "identifiedDateTime", row_int(alert, ALERT_AT));
    fhir_put_text(resource, "detail", note);
    if (taken != NULL)
        json_array_append_new(done,
                              mitigation("taken", taken, row_int(alert, ALERT_TAKEN_AT), out));
    if (outcome != NULL)
        json_array_append_new(done, mitigation(outcome, row_text(alert, ALERT_CLOSED_BY),
                                               row_int(alert, ALERT_CLOSED_AT), out));
    if (json_array_size(done) > 0)
        fhir_put(resource, "mitigation", done);
    else
        json_decref(done);
    out->emit(resource, out->context);
}
