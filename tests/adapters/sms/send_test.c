/* SPDX-License-Identifier: Apache-2.0 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

#include "adapters/sms/sms_gateway.h"
#include "tests/support/gateways.h"

static const char FORM[] =
    "{\"kind\":\"http-sms\",\"from\":\"OSIER\",\"takes_key\":true,\"send\":{"
    "\"url\":\"https://gateway.example/v1/{to}/messages\",\"method\":\"POST\","
    "\"headers\":{\"Authorization\":\"Bearer {secret:texts.key}\",\"Idempotency-Key\":\"{id}\"},"
    "\"form\":{\"to\":\"{to}\",\"text\":\"{text}\",\"ref\":\"{id}\",\"from\":\"{from}\"},"
    "\"accepted\":{\"status\":[200,202],\"id\":\"/message/id\"},"
    "\"refused\":{\"status\":[400,422],\"reason\":\"/error\"}}}";
static const char JSON_QUERY[] =
    "{\"kind\":\"http-sms\",\"send\":{\"url\":\"https://gateway.example/send\","
    "\"query\":{\"k\":\"{secret:texts.key}\",\"to\":\"{to}\"},"
    "\"json\":{\"messages\":[{\"to\":[\"{to}\"],\"body\":\"<{text}>\",\"n\":1}],\"ref\":\"{id}\"},"
    "\"accepted\":{\"status\":[200],\"id\":\"/0/id\"},\"refused\":{\"status\":[400]}}}";
static const char PLAIN[] =
    "{\"kind\":\"http-sms\",\"send\":{\"url\":\"https://gateway.example/send\","
    "\"json\":{\"to\":\"{to}\",\"text\":\"{text}\"},\"accepted\":{\"status\":[200]}}}";

static Outgoing message(const char *text)
{
    return (Outgoing){
        .id = "00112233445566778899aabbccddeeff", .to = "+442079460001", .text = text};
}

static bool has_header(const WireRequest *request, const char *line)
{
    for (guint i = 0; i < request->headers->len; i++)
        if (strcmp(g_ptr_array_index(request->headers, i), line) == 0) return true;
    return false;
}

static char *body_of(const WireRequest *request)
{
    size_t length;
    const char *body = g_bytes_get_data(request->body, &length);

    return g_strndup(body, length);
}

static void a_form_is_filled_and_escaped(void **state)
{
    g_autoptr(Clinic) clinic = clinic_with_gateway(FORM);
    Outgoing outgoing = message("a&b=c +1% é");
    char *why = NULL;
    g_autoptr(WireRequest) request =
        sms_send_request(clinic_gateway(clinic, "texts"), &outgoing, test_secret, NULL, &why);

    (void)state;
    assert_non_null(request);
    assert_string_equal(request->url, "https://gateway.example/v1/%2B442079460001/messages");
    assert_true(has_header(request, "Authorization: Bearer k-texts.key"));
    assert_true(has_header(request, "Idempotency-Key: 00112233445566778899aabbccddeeff"));
    assert_true(has_header(request, "Content-Type: application/x-www-form-urlencoded"));
    assert_true(request->repeatable);
    g_autofree char *body = body_of(request);
    assert_string_equal(body, "to=%2B442079460001&text=a%26b%3Dc%20%2B1%25%20%C3%A9"
                              "&ref=00112233445566778899aabbccddeeff&from=OSIER");
}

static void json_keeps_its_nesting_and_a_value_is_not_scanned(void **state)
{
    g_autoptr(Clinic) clinic = clinic_with_gateway(JSON_QUERY);
    Outgoing outgoing = message("{secret:texts.key} \"quoted\"\n{id}");
    char *why = NULL;
    g_autoptr(WireRequest) request =
        sms_send_request(clinic_gateway(clinic, "texts"), &outgoing, test_secret, NULL, &why);

    (void)state;
    assert_non_null(request);
    assert_false(request->repeatable);
    assert_string_equal(request->url,
                        "https://gateway.example/send?k=k-texts.key&to=%2B442079460001");
    g_autofree char *body = body_of(request);
    assert_string_equal(body, "{\"messages\":[{\"to\":[\"+442079460001\"],\"body\":"
                              "\"<{secret:texts.key} \\\"quoted\\\"\\n{id}>\",\"n\":1}],"
                              "\"ref\":\"00112233445566778899aabbccddeeff\"}");
}

static void a_line_break_in_a_header_is_refused(void **state)
{
    g_autoptr(Clinic) clinic = clinic_with_gateway(FORM);
    Outgoing outgoing = message("hello");
    g_autofree char *why = NULL;

    (void)state;
    outgoing.id = "0011\r\nX-Other: 1";
    assert_null(
        sms_send_request(clinic_gateway(clinic, "texts"), &outgoing, test_secret, NULL, &why));
    assert_string_equal(why, "header Idempotency-Key: its value holds a line break");
}

static void a_missing_secret_is_named_but_never_shown(void **state)
{
    g_autofree char *json = g_strdup(FORM);
    char *name = strstr(json, "texts.key");
    const char *const broken[] = {"texts.key", "s3cr\net", NULL};
    Outgoing outgoing = message("hello");
    g_autofree char *why = NULL, *shown = NULL;

    (void)state;
    g_autoptr(Clinic) clinic = clinic_with_gateway(json);
    assert_null(sms_send_request(clinic_gateway(clinic, "texts"), &outgoing, test_secret,
                                 (void *)broken, &shown));
    assert_null(strstr(shown, "s3cr"));
    memcpy(name, "absent.ky", strlen("absent.ky"));
    const char *const none[] = {"absent.ky", NULL, NULL};
    g_autoptr(Clinic) other = clinic_with_gateway(json);
    assert_null(sms_send_request(clinic_gateway(other, "texts"), &outgoing, test_secret,
                                 (void *)none, &why));
    assert_non_null(strstr(why, "absent.ky"));
}

/* What an answer settles to; the gateway's id or reason stands behind a colon. */
static void expect(const char *json, WireResponse *taken, Fate fate, const char *id,
                   const char *reason)
{
    g_autoptr(WireResponse) response = taken;
    g_autoptr(Clinic) clinic = clinic_with_gateway(json);
    Settlement settlement;

    sms_send_settle(clinic_gateway(clinic, "texts"), response, &settlement);
    assert_string_equal(fate_name(settlement.fate), fate_name(fate));
    if (id != NULL)
        assert_string_equal(settlement.gateway_id, id);
    else
        assert_null(settlement.gateway_id);
    if (reason == NULL)
        assert_null(settlement.reason);
    else if (strstr(settlement.reason, reason) == NULL)
        fail_msg("%s", settlement.reason);
    settlement_clear(&settlement);
}

static WireResponse *answered(long status, const char *body)
{
    return wire_response_new(PHASE_ANSWERED, status, body, NULL);
}

static void an_accepted_message_gets_the_gateways_id(void **state)
{
    (void)state;
    expect(FORM, answered(202, "{\"message\":{\"id\":\"m-1\"}}"), FATE_ACCEPTED, "m-1", NULL);
    expect(FORM, answered(200, "{\"message\":{\"id\":90071992547409931}}"), FATE_ACCEPTED,
           "90071992547409931", NULL);
    expect(JSON_QUERY, answered(200, "[{\"id\":7}]"), FATE_ACCEPTED, "7", NULL);
    expect(PLAIN, answered(200, "<html>thanks</html>"), FATE_ACCEPTED, NULL, NULL);
    expect(PLAIN, answered(200, ""), FATE_ACCEPTED, NULL, NULL);
}

static void an_accepted_status_without_an_id_most_probably_went(void **state)
{
    (void)state;
    expect(FORM, answered(202, "{\"message\":{}}"), FATE_ACCEPTED, NULL, "/message/id");
    expect(JSON_QUERY, answered(200, "{\"ok\":true}"), FATE_ACCEPTED, NULL, "/0/id");
    expect(JSON_QUERY, answered(200, "[{\"id\":null}]"), FATE_ACCEPTED, NULL, "/0/id");
}

static void a_portals_page_is_no_word_of_the_gateway(void **state)
{
    const char *page = "<html><body>Please log in to the hotel's network</body></html>";

    (void)state;
    expect(FORM, answered(200, page), FATE_UNSURE, NULL, "unreadable");
    expect(JSON_QUERY, answered(200, page), FATE_UNSURE, NULL, "unreadable");
    expect(FORM, answered(202, "{\"message\":{\"id\":\"m-"), FATE_UNSURE, NULL, "unreadable");
    expect(JSON_QUERY, answered(200, "[{\"id\":"), FATE_UNSURE, NULL, "unreadable");
    expect(JSON_QUERY, answered(200, "[{\"id\":1,\"id\":2}]"), FATE_UNSURE, NULL, "unreadable");
    expect(JSON_QUERY, answered(200, ""), FATE_UNSURE, NULL, "empty");
}

static void only_a_refused_status_refuses(void **state)
{
    (void)state;
    expect(FORM, answered(422, "{\"error\":\"no such\\r\\nnumber\"}"), FATE_REFUSED, NULL,
           "HTTP 422: no such  number");
    expect(FORM, answered(400, "<html>"), FATE_REFUSED, NULL, "HTTP 400");
    expect(FORM, answered(401, "{}"), FATE_WAITING, NULL, "HTTP 401");
    expect(FORM, answered(404, "{}"), FATE_WAITING, NULL, "HTTP 404");
    expect(FORM, answered(500, "{}"), FATE_WAITING, NULL, "HTTP 500");
    expect(FORM, answered(302, ""), FATE_WAITING, NULL, "HTTP 302");
}

static void a_busy_gateway_says_when_to_come_back(void **state)
{
    g_autoptr(Clinic) clinic = clinic_with_gateway(FORM);
    g_autoptr(WireResponse) response = answered(429, "{}");
    Settlement settlement;

    (void)state;
    response->retry_after_s = 90;
    sms_send_settle(clinic_gateway(clinic, "texts"), response, &settlement);
    assert_int_equal(settlement.fate, FATE_WAITING);
    assert_int_equal(settlement.retry_after_s, 90);
    settlement_clear(&settlement);
}

static void a_cut_line_is_unsure_whatever_the_gateway_promises(void **state)
{
    (void)state;
    expect(FORM, wire_response_new(PHASE_NEVER_LEFT, 0, NULL, "no route"), FATE_WAITING, NULL,
           "no route");
    expect(JSON_QUERY, wire_response_new(PHASE_NEVER_LEFT, 0, NULL, "no route"), FATE_WAITING, NULL,
           "no route");
    expect(FORM, wire_response_new(PHASE_UNSURE, 0, NULL, "reset"), FATE_UNSURE, NULL, "reset");
    expect(JSON_QUERY, wire_response_new(PHASE_UNSURE, 0, NULL, "reset"), FATE_UNSURE, NULL,
           "reset");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_form_is_filled_and_escaped),
        cmocka_unit_test(json_keeps_its_nesting_and_a_value_is_not_scanned),
        cmocka_unit_test(a_line_break_in_a_header_is_refused),
        cmocka_unit_test(a_missing_secret_is_named_but_never_shown),
        cmocka_unit_test(an_accepted_message_gets_the_gateways_id),
        cmocka_unit_test(an_accepted_status_without_an_id_most_probably_went),
        cmocka_unit_test(a_portals_page_is_no_word_of_the_gateway),
        cmocka_unit_test(only_a_refused_status_refuses),
        cmocka_unit_test(a_busy_gateway_says_when_to_come_back),
        cmocka_unit_test(a_cut_line_is_unsure_whatever_the_gateway_promises),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
