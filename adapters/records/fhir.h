/* SPDX-License-Identifier: Apache-2.0 */
/* What the ledger holds as resources of HL7 FHIR R4 (4.0.1). Pure: rows in, JSON out. Ids follow from the ids of the ledger, and
 * the same rows give the same bytes. docs/records.md has the table of what becomes what. */
#ifndef OSIER_ADAPTERS_RECORDS_FHIR_H
#define OSIER_ADAPTERS_RECORDS_FHIR_H

#include <jansson.h>

#include "core/ledger/table.h"
#include "core/watch/adherence.h"

/* A client as the finders give it. */
typedef struct {
    const char *id;
    const char *source;   /* meta.source: the ledger that it stands in */
    GHashTable *settings; /* field -> json_t *, "plan.stage" among them */
    GPtrArray *contacts;  /* of Row */
    bool ended;
    bool finished; /* ended because the programme is done */
    bool waits;    /* held, paused or suspended */
    bool stopped;
} FhirClient;

/* Takes one resource over. */
typedef void FhirEmit(json_t *resource, void *context);

typedef struct {
    FhirEmit *emit;
    void *context;
    GHashTable *people; /* name -> NULL: whoever was referred to as a Practitioner */
} FhirOut;

/* Patient and Consent. */
void fhir_client(const FhirClient *client, const FhirOut *out);

/* CarePlan, Goal, ServiceRequest and CommunicationRequest; nothing for a client without a plan. */
void fhir_plan(const FhirClient *client, const FhirOut *out);

/* What a report says: Observation for done, intensity and pain. */
void fhir_report(const FhirClient *client, const Row *report, const FhirOut *out);

/* A reading of range: Observation. */
void fhir_measure(const FhirClient *client, const Row *measure, const FhirOut *out);

/* Adherence in a month ("2026-03"): Observation. */
void fhir_adherence(const FhirClient *client, const char *month, const SessionCounts *counts,
                    const FhirOut *out);

/* An alert: DetectedIssue with its outcome. client NULL: of the clinic; so below. */
void fhir_alert(const FhirClient *client, const char *source, const Row *alert, const FhirOut *out);

/* Messages that went out, and what came in: Communication. */
void fhir_message(const FhirClient *client, const char *source, const Row *message,
                  const FhirOut *out);
void fhir_reply(const FhirClient *client, const char *source, const Row *reply, const FhirOut *out);

/* Who wrote last of the client, and when: Provenance. event is "REPLICA:SEQ". */
void fhir_provenance(const FhirClient *client, const char *event, const char *author, int64_t at_ms,
                     const FhirOut *out);

/* Everybody in out->people, by name: Practitioner. */
void fhir_people(const char *source, const FhirOut *out);

#endif
