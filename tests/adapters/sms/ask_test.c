/* SPDX-License-Identifier: Apache-2.0 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

#include "adapters/sms/sms_gateway.h"
#include "tests/support/gateways.h"

static const char GATEWAY[] =
    "{\"kind\":\"http-sms\",\"send\":{\"url\":\"https://gateway.example/send\","
    "\"json\":{\"to\":\"{to}\",\"text\":\"{text}\",\"ref\":\"{id}\"}},"
    "\"ask\":{\"url\":\"https://gateway.example/sent?ref={id}\",\"id\":\"/items/0/id\","
    "\"headers\":{\"Authorization\":\"Bearer {secret:texts.key}\"},\"none\":[404,410]}}";

static void the_question_names_the_message(void **state)
{
    g_autoptr(Clinic) clinic = clinic_with_gateway(GATEWAY);
    g_autofree char *why = NULL;
    g_autoptr(WireRequest) request =
        sms_ask_request(clinic_gateway(clinic, "texts"), "00aa", test_secret, NULL, &why);

    (void)state;
    assert_string_equal(request->url, "https://gateway.example/sent?ref=00aa");
    assert_string_equal(request->method, "GET");
    assert_string_equal(request->headers->pdata[0], "Authorization: Bearer k-texts.key");
    assert_null(request->body);
    assert_true(request->repeatable);
}

static void answer_is(WireResponse *response, Fate fate, const char *id)
{
    g_autoptr(Clinic) clinic = clinic_with_gateway(GATEWAY);
    Settlement settlement;

    response->content_type = g_strdup("application/json");
    sms_ask_settle(clinic_gateway(clinic, "texts"), response, &settlement);
    assert_int_equal(settlement.fate, fate);
    if (id != NULL) assert_string_equal(settlement.gateway_id, id);
    if (id == NULL) assert_null(settlement.gateway_id);
    settlement_clear(&settlement);
    wire_response_free(response);
}

static void yes_no_and_nobody_knows(void **state)
{
    (void)state;
    answer_is(wire_response_new(PHASE_ANSWERED, 200, "{\"items\":[{\"id\":7}]}", NULL),
              FATE_ACCEPTED, "7");
    answer_is(wire_response_new(PHASE_ANSWERED, 200, "{\"items\":[]}", NULL), FATE_WAITING, NULL);
    answer_is(wire_response_new(PHASE_ANSWERED, 200, "{\"items\":[{\"id\":null}]}", NULL),
              FATE_WAITING, NULL);
    answer_is(wire_response_new(PHASE_ANSWERED, 404, "no such thing", NULL), FATE_WAITING, NULL);
    answer_is(wire_response_new(PHASE_ANSWERED, 410, "", NULL), FATE_WAITING, NULL);
    answer_is(wire_response_new(PHASE_ANSWERED, 500, "{\"items\":[]}", NULL), FATE_UNSURE, NULL);
    answer_is(wire_response_new(PHASE_ANSWERED, 401, "{\"items\":[]}", NULL), FATE_UNSURE, NULL);
    answer_is(wire_response_new(PHASE_ANSWERED, 200, "<html>Log in</html>", NULL), FATE_UNSURE,
              NULL);
    answer_is(wire_response_new(PHASE_UNSURE, 0, NULL, "reset"), FATE_UNSURE, NULL);
    answer_is(wire_response_new(PHASE_NEVER_LEFT, 0, NULL, "no route"), FATE_UNSURE, NULL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_question_names_the_message),
        cmocka_unit_test(yes_no_and_nobody_knows),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
