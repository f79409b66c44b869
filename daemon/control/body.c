/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/control/body.h"

#include <glib.h>

static const char *const TEXTS[] = {
    "as",       "asked",    "at",       "by",     "calendar", "channel",   "clinician",
    "consent",  "date",     "done",     "email",  "felt",     "from",      "hold_s",
    "kind",     "landmark", "language", "method", "missed",   "movement",  "name",
    "needs",    "note",     "outcome",  "peer",   "phone",    "programme", "repetitions",
    "returned", "review",   "role",     "rule",   "session",  "set_up",    "side",
    "stage",    "start",    "take",     "to",     "until",    "why",       "with",
    "wording",  "words",    "zone",
};

/* Of bodies alone: in a query all is text. */
static const char *const FLAGS[] = {"clear", "even_so"};

static const char *by_problem(const json_t *by)
{
    const char *text = json_string_value(by);

    if (text == NULL) return NULL;
    for (const char *at = text; *at != '\0'; at = g_utf8_next_char(at))
        if (g_unichar_iscntrl(g_utf8_get_char(at)))
            return "must be one line without control characters";
    return g_utf8_strlen(text, -1) > BODY_BY_CHARS ? "is longer than 80 characters" : NULL;
}

const char *body_fault(const json_t *body, const char **field)
{
    for (size_t i = 0; i < G_N_ELEMENTS(TEXTS); i++) {
        const json_t *value = json_object_get(body, TEXTS[i]);
        *field = TEXTS[i];
        if (value != NULL && !json_is_null(value) && !json_is_string(value))
            return "must be a text";
    }
    /* An id; of an enrolment the client with all fields. */
    const json_t *client = json_object_get(body, "client");
    *field = "client";
    if (client != NULL && !json_is_null(client) && !json_is_string(client) &&
        !json_is_object(client))
        return "must be a text";
    for (size_t i = 0; i < G_N_ELEMENTS(FLAGS); i++) {
        const json_t *value = json_object_get(body, FLAGS[i]);
        *field = FLAGS[i];
        if (value != NULL && !json_is_null(value) && !json_is_boolean(value))
            return "must be true or false";
    }
    *field = "by";
    return by_problem(json_object_get(body, "by"));
}
