/* SPDX-License-Identifier: Apache-2.0 */
/* Patients with their plans out of FHIR R4, as drafts that a person confirms. Pure. What is not understood is kept beside the
 * draft and told, never dropped in silence. */
#ifndef OSIER_ADAPTERS_RECORDS_FHIR_IN_H
#define OSIER_ADAPTERS_RECORDS_FHIR_IN_H

#include <jansson.h>

#include "adapters/records/sheet.h"

#define FHIR_IN_BYTES_MAX (50 * 1024 * 1024)

/* The resources of a Bundle, of one resource, or of newline-delimited JSON, as an array (new reference). Faults: no JSON, another
 * version than R4 by what its resources look like, an entry without a resource. NULL where there is nothing to go on with. */
json_t *fhir_in_read(const char *bytes, gsize length, GPtrArray *faults);

/* One draft for each Patient (new reference), an array of
 *   {"fields": as for adding a client, "draft": {"plan": as for setting a plan, or null, "left": {"Patient": {...}, ...}}}
 * other counts resources of types that are not taken, by type. Faults, with the resource's place from 1 as the row: references
 * that lead nowhere, two plans for one patient, somebody who has died. */
json_t *fhir_in_drafts(const json_t *resources, json_t *other, GPtrArray *faults);

#endif
