/* SPDX-License-Identifier: Apache-2.0 */
/* What resources are put together from. For this room. */
#ifndef OSIER_ADAPTERS_RECORDS_FHIR_PART_H
#define OSIER_ADAPTERS_RECORDS_FHIR_PART_H

#include "adapters/records/fhir.h"

/* Names of our own: a made-up domain, for nothing of them is fetched. */
#define FHIR_OWN "https://osier.example/fhir/"
#define FHIR_CODES FHIR_OWN "CodeSystem/practice"
#define FHIR_TERMS "http://terminology.hl7.org/CodeSystem/"
#define FHIR_UNITS "http://unitsofmeasure.org"

/* {"resourceType", "id": prefix + id, "meta": {"source", "profile"}}. Characters of an id that FHIR does not allow become "-". */
json_t *fhir_resource(const char *type, const char *prefix, const char *id, const char *source);

/* {"reference": "Type/PREFIXid"} */
json_t *fhir_reference(const char *type, const char *prefix, const char *id);
/* The client's own; and one that only says who. */
json_t *fhir_subject(const FhirClient *client);
json_t *fhir_named(const char *text);
/* Somebody of the clinic, who is noted as a Practitioner. */
json_t *fhir_practitioner(const FhirOut *out, const char *name);

/* {"coding": [{"system", "code", "display"}], "text"}; display may be NULL, text is then the code. */
json_t *fhir_code(const char *system, const char *code, const char *display);
json_t *fhir_text(const char *text);
/* The same as a list of one. */
json_t *fhir_one(json_t *value);

/* {"value", "unit", "system": UCUM, "code": unit} */
json_t *fhir_quantity(double value, const char *unit);

void fhir_put(json_t *resource, const char *field, json_t *value);
void fhir_put_text(json_t *resource, const char *field,
                   const char *text); /* nothing for NULL or "" */
void fhir_put_instant(json_t *resource, const char *field, int64_t ms);

/* A setting of the client as text or number; NULL or 0 where it has none. */
const char *fhir_setting(const FhirClient *client, const char *field);
double fhir_number(const FhirClient *client, const char *field);

/* How a message goes, as a list of one CodeableConcept. */
json_t *fhir_medium(const char *channel);

#endif
