/* SPDX-License-Identifier: Apache-2.0 */
/* Single resources read into fields. For this room. */
#ifndef OSIER_ADAPTERS_RECORDS_FHIR_IN_PART_H
#define OSIER_ADAPTERS_RECORDS_FHIR_IN_PART_H

#include <glib.h>
#include <jansson.h>

/* A field's text, or NULL; a resource's id, or "?". */
const char *fhir_in_text(const json_t *object, const char *field);
const char *fhir_in_id(const json_t *resource);

/* Who: fields for adding a client (new reference). */
json_t *fhir_in_patient(const json_t *resource);
void fhir_in_consent(const json_t *resource, json_t *fields);
void fhir_in_medium(const json_t *resource, json_t *fields);

/* What: fields for setting a plan. */
void fhir_in_plan(const json_t *resource, json_t *fields);
void fhir_in_request(const json_t *resource, json_t *fields);
void fhir_in_goal(const json_t *resource, json_t *draft);

/* Keeps the elements that were not taken under draft.left.TYPE, an empty object where there are none. */
void fhir_in_keep_rest(json_t *draft, const json_t *resource);

/* After all resources: consent only for the client's own channel; goals only with a plan. */
void fhir_in_settle(json_t *drafts);

#endif
