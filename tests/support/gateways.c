/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/support/gateways.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

static const char SETTINGS[] =
    "{\"clinic\":{\"name\":\"Saltmarsh Lane\",\"zone\":\"Europe/London\",\"language\":\"en\","
    "\"phone\":\"+442079460100\",\"emergency\":\"999\",\"country_code\":\"44\","
    "\"hours\":{\"mon-fri\":\"08:30-17:30\"},\"quiet\":\"21:00-08:00\","
    "\"digest\":{\"day\":\"monday\",\"at\":\"08:00\",\"to\":[\"desk@clinic.example\"]}},"
    "\"duty\":[{\"name\":\"R. Okafor\",\"sms\":\"+442079460190\"}],"
    "\"hooks\":{\"listen\":\"127.0.0.1:8751\"}}";

Clinic *clinic_with_gateway(const char *json)
{
    json_error_t error;
    json_t *settings = json_loads(SETTINGS, 0, NULL);
    json_t *gateway = json_loads(json, 0, &error);
    g_autoptr(Faults) faults = faults_new();

    if (gateway == NULL) fail_msg("the test's JSON, column %d: %s", error.column, error.text);
    json_object_set_new(settings, "gateways", json_pack("{s:o}", "texts", gateway));
    Clinic *clinic = clinic_read(settings, faults);
    for (guint i = 0; i < faults->items->len; i++) {
        const Fault *fault = g_ptr_array_index(faults->items, i);
        print_error("%s: %s: %s\n", fault->pointer, fault->value, fault->why);
    }
    json_decref(settings);
    assert_non_null(clinic);
    return clinic;
}

const char *test_secret(const char *name, void *context)
{
    const char *const *pairs = context;

    for (; pairs != NULL && *pairs != NULL; pairs += 2)
        if (strcmp(pairs[0], name) == 0) return pairs[1];
    if (strcmp(name, "absent") == 0) return NULL;
    return strcmp(name, "texts.key") == 0 ? "k-texts.key" : "k-other";
}
