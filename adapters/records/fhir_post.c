/* SPDX-License-Identifier: Apache-2.0 */
/* Messages both ways: Communication. */
#include <string.h>

#include "adapters/records/fhir_part.h"

/* R4's event-status: what was not sent is not-done with its reason; what nobody can know is unknown. */
static const char *status_of(const char *fate)
{
    static const struct {
        const char *fate, *status;
    } STATUSES[] = {
        {"accepted", "completed"}, {"delivered", "completed"}, {"refused", "not-done"},
        {"failed", "not-done"},    {"lapsed", "not-done"},     {"unsure", "unknown"},
    };

    for (size_t i = 0; fate != NULL && i < G_N_ELEMENTS(STATUSES); i++)
        if (strcmp(fate, STATUSES[i].fate) == 0) return STATUSES[i].status;
    return "unknown";
}

static const char *category_of(const char *kind)
{
    if (kind == NULL) return "notification";
    if (strcmp(kind, "reminder") == 0 || strcmp(kind, "nudge") == 0) return "reminder";
    if (strcmp(kind, "alert") == 0 || strcmp(kind, "safety") == 0) return "alert";
    return strcmp(kind, "answer") == 0 ? "instruction" : "notification";
}

/* An alert goes to clinicians about the client, and so do its updates; the digest goes to the clinic. */
static bool is_for_clinic(const char *kind)
{
    return kind == NULL || strcmp(kind, "alert") == 0 || strcmp(kind, "update") == 0 ||
           strcmp(kind, "digest") == 0;
}

static void put_payload(json_t *resource, const char *text)
{
    if (text != NULL && *text != '\0')
        fhir_put(resource, "payload", fhir_one(json_pack("{s:s}", "contentString", text)));
}

void fhir_message(const FhirClient *client, const char *source, const Row *message,
                  const FhirOut *out)
{
    const char *kind = row_text(message, MESSAGE_KIND), *fate = row_text(message, MESSAGE_FATE);
    const char *status = status_of(fate), *reason = row_text(message, MESSAGE_REASON);
    const char *alert = row_text(message, MESSAGE_FOR_ALERT);
    json_t *resource = fhir_resource("Communication", "m-", row_text(message, MESSAGE_ID), source);
    bool to_client = client != NULL && !is_for_clinic(kind);

    if (to_client && g_strcmp0(kind, "reminder") == 0 &&
        fhir_setting(client, "plan.programme") != NULL &&
        g_strcmp0(fhir_setting(client, "channel"), "phone") != 0)
        fhir_put(resource, "basedOn",
                 fhir_one(fhir_reference("CommunicationRequest", "reminders-", client->id)));
    fhir_put_text(resource, "status", status);
    if (strcmp(status, "completed") != 0)
        fhir_put(resource, "statusReason",
                 fhir_text(reason != NULL && *reason != '\0' ? reason
                           : fate != NULL                    ? fate
                                                             : "?"));
    fhir_put(resource, "category",
             fhir_one(fhir_code(FHIR_TERMS "communication-category", category_of(kind), NULL)));
    fhir_put(resource, "medium", fhir_medium(row_text(message, MESSAGE_CHANNEL)));
    if (client != NULL) fhir_put(resource, "subject", fhir_subject(client));
    if (kind != NULL) fhir_put(resource, "topic", fhir_code(FHIR_CODES, kind, NULL));
    if (client != NULL && alert != NULL)
        fhir_put(resource, "about", fhir_one(fhir_reference("DetectedIssue", "a-", alert)));
    if (strcmp(status, "completed") == 0)
        fhir_put_instant(resource, "sent",
                         row_is_null(message, MESSAGE_FATE_AT) ? row_int(message, MESSAGE_AT)
                                                               : row_int(message, MESSAGE_FATE_AT));
    fhir_put(
        resource, "recipient",
        fhir_one(to_client ? fhir_subject(client) : fhir_named(row_text(message, MESSAGE_TO))));
    put_payload(resource, row_text(message, MESSAGE_TEXT));
    out->emit(resource, out->context);
}

void fhir_reply(const FhirClient *client, const char *source, const Row *reply, const FhirOut *out)
{
    const char *text = row_text(reply, REPLY_TEXT), *problem = row_text(reply, REPLY_PROBLEM);
    json_t *resource = fhir_resource("Communication", "r-", row_text(reply, REPLY_ID), source);

    fhir_put_text(resource, "status", "completed");
    fhir_put(resource, "medium", fhir_medium(row_text(reply, REPLY_CHANNEL)));
    if (client != NULL) fhir_put(resource, "subject", fhir_subject(client));
    if (!row_is_null(reply, REPLY_AT)) fhir_put_instant(resource, "sent", row_int(reply, REPLY_AT));
    if (!row_is_null(reply, REPLY_ARRIVED))
        fhir_put_instant(resource, "received", row_int(reply, REPLY_ARRIVED));
    fhir_put(resource, "sender",
             client != NULL ? fhir_subject(client) : fhir_named(row_text(reply, REPLY_FROM)));
    put_payload(resource, text);
    if (problem != NULL && *problem != '\0')
        fhir_put(resource, "note", fhir_one(json_pack("{s:s}", "text", problem)));
    out->emit(resource, out->context);
}
