/* SPDX-License-Identifier: Apache-2.0 */
/* Any bytes as calls of the JSON API, on a whole daemon in memory. Each line is one call: a digit for the method, a path, a
 * space, a body; @ in it stands for a client's id, $ for an alert's. Every call is answered by a document; a fault of the caller's is one that says what, which value and why, and
 * the store stays sound. */
#include <string.h>

#include "adapters/serve/serve_memory.h"
#include "tests/fuzz/mapped.h"
#include "tests/sim/clinic.h"

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

/* Calls of one clinic, then a new one, so that a finding plays again from few bytes. */
#define CALLS_MOST 400

typedef struct {
    SimClinic *clinic;
    char *client;
    char *alert;
    int inputs;
} House;

static char *ask(SimClinic *clinic, const char *path, json_t *body, const char *field)
{
    int status;
    json_t *answer = sim_call(clinic, "POST", path, body, &status);
    char *value = g_strdup(json_string_value(json_object_get(answer, field)));

    g_assert(status == 200);
    json_decref(answer);
    return value;
}

/* A clinic with a client who has a plan, and an alert. */
static void move_in(House *house)
{
    SimClinic *clinic = sim_clinic_new(&(SimSetup){.seed = 1, .start_ms = INT64_C(1772438400000)});

    sim_start(clinic);
    house->clinic = clinic;
    house->client = ask(clinic, "/clients",
                        json_pack("{s:s, s:s, s:s, s:s, s:s}", "name", "Ada N.", "zone",
                                  "Europe/London", "channel", "sms", "phone", "+442079460001",
                                  "consent", "sms: signed form, R. Okafor, 2026-03-01"),
                        "client");
    g_autofree char *screen = g_strdup_printf("/clients/%s/screen", house->client);
    g_autofree char *plan = g_strdup_printf("/clients/%s/plan", house->client);
    g_autofree char *alerts = g_strdup_printf("/clients/%s/alerts", house->client);
    g_free(ask(clinic, screen,
               json_pack("{s:s, s:s, s:b}", "by", "R. Okafor", "floor", "yes", "clear", 1), "x"));
    g_free(ask(clinic, plan,
               json_pack("{s:s, s:s, s:s}", "programme", "calf-and-hamstring", "at", "08:30",
                         "stage", "calf-with-strap"),
               "x"));
    house->alert = ask(
        clinic, alerts,
        json_pack("{s:s, s:s, s:s}", "kind", "fall", "words", "she slipped", "by", "J. Lindqvist"),
        "alert");
}

static House *house_now(void)
{
    static House house;

    if (house.clinic != NULL && ++house.inputs % CALLS_MOST == 0) {
        sim_clinic_free(house.clinic);
        g_free(house.client);
        g_free(house.alert);
        house = (House){0};
    }
    if (house.clinic == NULL) move_in(&house);
    return &house;
}

static char *fill(const House *house, const char *line)
{
    GString *text = g_string_new(line);

    g_string_replace(text, "@", house->client, 0);
    if (house->alert != NULL) g_string_replace(text, "$", house->alert, 0);
    return g_string_free(text, FALSE);
}

static void check_fault(const json_t *document)
{
    const json_t *error = json_object_get(document, "error");

    g_assert(json_is_string(json_object_get(error, "what")));
    g_assert(json_is_string(json_object_get(error, "value")));
    g_assert(json_is_string(json_object_get(error, "why")));
    g_assert(json_is_integer(json_object_get(error, "exit")));
}

static void on_answer(const ServeMemoryAnswer *answer, void *context)
{
    gsize length;
    const char *bytes = g_bytes_get_data(answer->body, &length);

    *(bool *)context = true;
    if (answer->content_type != NULL && strstr(answer->content_type, "openmetrics") != NULL) return;
    if (length == 0) { /* turned away before any route: too large, or no path */
        g_assert(answer->status == 413 || answer->status == 400);
        return;
    }
    json_t *document = json_loadb(bytes, length, JSON_DECODE_ANY, NULL);
    g_assert(document != NULL);
    if (answer->status != 200) check_fault(document);
    g_assert(answer->status == 200 || (answer->status >= 400 && answer->status < 500));
    json_decref(document);
}

static void call(SimClinic *clinic, char *line)
{
    char *path = line + 1;
    char *body = strchr(line, ' ');
    bool answered = false;

    if (line[0] == '\0' || path[0] != '/' || body == NULL) return;
    *body++ = '\0';
    if (strcmp(path, "/backup") == 0) return; /* writes files */
    serve_memory_request(clinic->control, (line[0] & 1) != 0 ? "POST" : "GET", path, NULL, body,
                         strlen(body), on_answer, &answered);
    sim_settle(clinic);
    g_assert(answered);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    const House *house = house_now();
    char *line;

    while ((line = mapped_line(&data, &size)) != NULL) {
        g_autofree char *filled = fill(house, line);
        call(house->clinic, filled);
        g_free(line);
    }
    return 0;
}
