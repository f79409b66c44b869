/* SPDX-License-Identifier: Apache-2.0 */
/* Webhooks that the stand-in signs are judged by osier's own eye. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

#include "core/calendar/date.h"
#include "daemon/rehearsal/hook.h"
#include "tests/support/gateways.h"

enum { NOW_S = 1772438400 };

static const HookMessage MESSAGE = {"in-00007", "+447700900111",
                                    "Done, 4, no pain \xf0\x9f\x99\x82", (int64_t)NOW_S * 1000};
static const char *const SECRETS[] = {"texts.hook", "YSBkdW1teSBmb3IgYSB0ZXN0", NULL};

static Clinic *hooked(const char *signature)
{
    g_autofree char *json = g_strdup_printf(
        "{\"kind\":\"http-sms\",\"send\":{\"url\":\"https://a.example/"
        "m\",\"form\":{\"to\":\"{to}\","
        "\"text\":\"{text}\"},\"accepted\":{\"id\":\"/id\"}},\"webhook\":{\"path\":\"/in\","
        "\"id\":\"/data/id\",\"from\":\"/data/from\",\"text\":\"/data/text\",\"at\":\"/data/at\","
        "\"signature\":%s},\"receipts\":{\"webhook\":{\"path\":\"/receipts\",\"id\":\"/id\","
        "\"status\":\"/status\",\"delivered\":[\"ok\"],\"failed\":[\"lost\"]}}}",
        signature);

    return clinic_with_gateway(json);
}

static const char *header(const char *name, void *context)
{
    const WireRequest *request = context;
    size_t length = strlen(name);

    for (guint i = 0; i < request->headers->len; i++) {
        const char *line = request->headers->pdata[i];
        if (g_ascii_strncasecmp(line, name, length) == 0 && line[length] == ':')
            return line + length + 1 + strspn(line + length + 1, " ");
    }
    return NULL;
}

static bool judged(const Signature *signature, WireRequest *request, int64_t now_s)
{
    gsize length;
    const void *body = g_bytes_get_data(request->body, &length);

    return webhook_signed(signature, header, request, body, length, now_s, test_secret,
                          (void *)SECRETS);
}

static const char *const SCHEMES[] = {
    "\"none\"",
    "{\"scheme\":\"standard-webhooks\",\"secret\":\"{secret:texts.hook}\"}",
    "{\"scheme\":\"hmac-sha256\",\"header\":\"X-Signature\",\"secret\":\"{secret:texts.hook}\","
    "\"encoding\":\"hex\",\"prefix\":\"sha256=\"}",
    "{\"scheme\":\"hmac-sha256\",\"header\":\"X-Mac\",\"secret\":\"{secret:texts.hook}\","
    "\"encoding\":\"base64\"}",
    "{\"scheme\":\"token\",\"header\":\"X-Token\",\"secret\":\"{secret:texts.hook}\"}",
};

static void every_scheme_is_signed_as_osier_judges_it(void **state)
{
    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(SCHEMES); i++) {
        g_autoptr(Clinic) clinic = hooked(SCHEMES[i]);
        const WebhookMapping *mapping = clinic_gateway(clinic, "texts")->webhook;
        g_autoptr(WireRequest) request = hook_message(mapping, "http://127.0.0.1:1", &MESSAGE,
                                                      NOW_S, test_secret, (void *)SECRETS);
        assert_non_null(request);
        assert_string_equal(request->url, "http://127.0.0.1:1/in");
        assert_true(judged(&mapping->signature, request, NOW_S + 60));
        /* And it is the signature that counts: without one, or with another body, it fails. */
        if (mapping->signature.scheme == SIGNATURE_NONE) continue;
        g_ptr_array_set_size(request->headers, 0);
        assert_false(judged(&mapping->signature, request, NOW_S + 60));
    }
}

static void what_is_delivered_is_read_back(void **state)
{
    g_autoptr(Clinic) clinic = hooked("\"none\"");
    const WebhookMapping *mapping = clinic_gateway(clinic, "texts")->webhook;
    g_autoptr(WireRequest) request =
        hook_message(mapping, "http://127.0.0.1:1", &MESSAGE, NOW_S, test_secret, NULL);
    gsize length;
    const void *body = g_bytes_get_data(request->body, &length);
    Incoming *incoming = webhook_read(mapping, "application/json", body, length);

    (void)state;
    assert_null(incoming->problem);
    assert_string_equal(incoming->id, MESSAGE.id);
    assert_string_equal(incoming->from, MESSAGE.from);
    assert_string_equal(incoming->text, MESSAGE.text);
    assert_true(incoming->at_ms == MESSAGE.at_ms);
    incoming_free(incoming);
}

static void receipts_say_delivered_or_failed(void **state)
{
    g_autoptr(Clinic) clinic = hooked(SCHEMES[1]);
    const ReceiptMapping *mapping = clinic_gateway(clinic, "texts")->receipts;

    (void)state;
    for (int delivered = 0; delivered < 2; delivered++) {
        g_autoptr(WireRequest) request =
            hook_receipt(mapping, "http://127.0.0.1:1", "texts-00001", delivered, NOW_S,
                         test_secret, (void *)SECRETS);
        gsize length;
        const void *body = g_bytes_get_data(request->body, &length);
        assert_true(judged(&mapping->signature, request, NOW_S));
        Receipt *receipt = receipt_read(mapping, "application/json", body, length);
        assert_non_null(receipt);
        assert_string_equal(receipt->gateway_id, "texts-00001");
        assert_int_equal(receipt->fate, delivered ? FATE_DELIVERED : FATE_FAILED);
        receipt_free(receipt);
    }
}

static void a_missing_secret_signs_nothing(void **state)
{
    g_autoptr(Clinic) clinic =
        hooked("{\"scheme\":\"token\",\"header\":\"X-Token\",\"secret\":\"{secret:absent}\"}");
    const WebhookMapping *mapping = clinic_gateway(clinic, "texts")->webhook;

    (void)state;
    assert_null(hook_message(mapping, "http://127.0.0.1:1", &MESSAGE, NOW_S, test_secret, NULL));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_scheme_is_signed_as_osier_judges_it),
        cmocka_unit_test(what_is_delivered_is_read_back),
        cmocka_unit_test(receipts_say_delivered_or_failed),
        cmocka_unit_test(a_missing_secret_signs_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
