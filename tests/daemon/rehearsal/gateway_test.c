/* SPDX-License-Identifier: Apache-2.0 */
/* The stand-in against osier's own translator: whatever the clinic's mapping, what the one writes
 * the other reads. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

#include "adapters/serve/serve_memory.h"
#include "core/calendar/date.h"
#include "daemon/rehearsal/gateway.h"
#include "daemon/rehearsal/working_copy.h"
#include "tests/support/gateways.h"

static const char TEXT[] = "Time & again: 50% \"off\", \xc3\xa9t\xc3\xa9 = {id}/{to}?";

/* One gateway's stand-in, reached without a socket. */
typedef struct {
    Clinic *clinic;
    const Gateway *gateway;
    Standin *standin;
    Serve *serve;
    WireResponse *answer;
    int heard;
    char *to;
    char *text;
    char *gateway_id;
} Bench;

static void on_text(const char *gateway, const char *gateway_id, const char *to, const char *text,
                    void *context)
{
    Bench *bench = context;

    assert_string_equal(gateway, "texts");
    bench->heard++;
    g_free(bench->to);
    g_free(bench->text);
    g_free(bench->gateway_id);
    bench->to = g_strdup(to);
    bench->text = g_strdup(text);
    bench->gateway_id = g_strdup(gateway_id);
}

/* The mapping is redirected first, as a rehearsal does it. */
static Bench *bench_new(const char *mapping)
{
    const Places places = {.gateway = 4711, .mail = 4712, .hooks = 4713, .page = 4714};
    const ServeLimits limits = {.body_max = 65536, .connections_max = 4};
    Bench *bench = g_new0(Bench, 1);
    json_t *root = json_pack("{s:{s:o}}", "gateways", "texts", json_loads(mapping, 0, NULL));

    settings_redirect(root, &places);
    char *moved = json_dumps(json_object_get(json_object_get(root, "gateways"), "texts"), 0);
    bench->clinic = clinic_with_gateway(moved);
    free(moved);
    json_decref(root);
    bench->gateway = clinic_gateway(bench->clinic, "texts");
    bench->standin = standin_new(bench->clinic, on_text, bench);
    bench->serve = serve_memory_new(&limits, standin_serve, bench->standin);
    return bench;
}

static void bench_free(Bench *bench)
{
    bench->serve->close(bench->serve);
    standin_free(bench->standin);
    clinic_free(bench->clinic);
    wire_response_free(bench->answer);
    g_free(bench->to);
    g_free(bench->text);
    g_free(bench->gateway_id);
    g_free(bench);
}

static void on_answer(const ServeMemoryAnswer *answer, void *context)
{
    Bench *bench = context;

    wire_response_free(bench->answer);
    bench->answer = wire_response_new(PHASE_ANSWERED, answer->status, NULL, NULL);
    g_bytes_unref(bench->answer->body);
    bench->answer->body = g_bytes_ref(answer->body);
    bench->answer->content_type = g_strdup(answer->content_type);
}

/* Carries a request (freed here) to the stand-in. */
static void carry(Bench *bench, WireRequest *request)
{
    static const char ORIGIN[] = "http://127.0.0.1:4711";
    gsize length = 0;
    const char *body = request->body != NULL ? g_bytes_get_data(request->body, &length) : "";

    assert_true(g_str_has_prefix(request->url, ORIGIN));
    g_ptr_array_add(request->headers, NULL);
    serve_memory_request(bench->serve, request->method, request->url + strlen(ORIGIN),
                         (const char *const *)request->headers->pdata, body, length, on_answer,
                         bench);
    g_ptr_array_remove_index(request->headers, request->headers->len - 1);
    wire_request_free(request);
}

/* Sends a message and settles it by the answer. */
static Fate send_one(Bench *bench, const char *id, const char *to)
{
    const Outgoing message = {.id = id, .to = to, .text = TEXT};
    g_autofree char *why = NULL;
    Settlement settlement;

    WireRequest *request = sms_send_request(bench->gateway, &message, test_secret, NULL, &why);
    assert_non_null(request);
    carry(bench, request);
    sms_send_settle(bench->gateway, bench->answer, &settlement);
    Fate fate = settlement.fate;
    if (fate == FATE_ACCEPTED && bench->gateway->send.accepted_id != NULL)
        assert_non_null(settlement.gateway_id);
    settlement_clear(&settlement);
    return fate;
}

/* --- sends ---------------------------------------------------------------------------------- */

static const char *const MAPPINGS[] = {
    "{\"kind\":\"http-sms\",\"takes_key\":true,\"send\":{\"url\":\"https://a.example/v1/messages\","
    "\"headers\":{\"Authorization\":\"Bearer {secret:texts.key}\",\"Idempotency-Key\":\"{id}\"},"
    "\"form\":{\"to\":\"{to}\",\"text\":\"{text}\",\"ref\":\"{id}\"},"
    "\"accepted\":{\"status\":[202],\"id\":\"/message/id\"}}}",
    "{\"kind\":\"http-sms\",\"takes_key\":true,\"send\":{\"url\":\"https://a.example/"
    "send?key={id}\","
    "\"json\":{\"messages\":[{\"recipient\":{\"number\":\"{to}\"},\"body\":\"{text}\"}],"
    "\"flash\":false},\"accepted\":{\"status\":200,\"id\":\"/messages/0/id\"}}}",
    "{\"kind\":\"http-sms\",\"send\":{\"url\":\"http://a.example\",\"method\":\"GET\","
    "\"query\":{\"dest\":\"{to}\",\"msg\":\"{text}\",\"client_ref\":\"osier-{id}\"}}}",
    "{\"kind\":\"http-sms\",\"send\":{\"url\":\"https://a.example/to/{to}/sms?ref={id}\","
    "\"method\":\"PUT\",\"json\":{\"a~b/c\":\"{text}\"},"
    "\"accepted\":{\"status\":[201],\"id\":\"/a~1b/~0id\"}}}",
};

static void reads_what_any_mapping_writes(void **state)
{
    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(MAPPINGS); i++) {
        Bench *bench = bench_new(MAPPINGS[i]);
        assert_int_equal(send_one(bench, "M1", "+447700900111"), FATE_ACCEPTED);
        assert_int_equal(bench->heard, 1);
        assert_string_equal(bench->to, "+447700900111");
        assert_string_equal(bench->text, TEXT);
        bench_free(bench);
    }
}

static void the_same_message_twice_is_counted(void **state)
{
    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(MAPPINGS); i++) {
        Bench *bench = bench_new(MAPPINGS[i]);
        send_one(bench, "M1", "+447700900111");
        send_one(bench, "M2", "+447700900111");
        send_one(bench, "M1", "+447700900111");
        assert_int_equal(standin_counts(bench->standin).taken, 2);
        assert_int_equal(standin_counts(bench->standin).repeated, 1);
        /* Who takes a key drops the repeat; the others send it on. */
        assert_int_equal(bench->heard, bench->gateway->takes_key ? 2 : 3);
        bench_free(bench);
    }
}

static void a_sick_gateway_takes_nothing(void **state)
{
    Bench *bench = bench_new(MAPPINGS[0]);

    (void)state;
    standin_set_sick(bench->standin, true);
    assert_int_equal(send_one(bench, "M1", "+447700900111"), FATE_WAITING);
    standin_set_sick(bench->standin, false);
    assert_int_equal(send_one(bench, "M1", "+447700900111"), FATE_ACCEPTED);
    assert_int_equal(standin_counts(bench->standin).repeated, 0);
    bench_free(bench);
}

static void a_number_that_nobody_has_is_refused(void **state)
{
    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(MAPPINGS); i++) {
        Bench *bench = bench_new(MAPPINGS[i]);
        standin_refuse(bench->standin, "+447700900142");
        assert_int_equal(send_one(bench, "M1", "+447700900142"), FATE_REFUSED);
        assert_int_equal(bench->heard, 0);
        bench_free(bench);
    }
}

/* --- polls ---------------------------------------------------------------------------------- */

#define POLLED(fields)                                                                             \
    "{\"kind\":\"http-sms\",\"send\":{\"url\":\"https://a.example/m\",\"form\":"                   \
    "{\"to\":\"{to}\",\"text\":\"{text}\"}},\"poll\":{" fields "}}"

static const char BY_CURSOR[] = POLLED(
    "\"url\":\"https://a.example/m?after={cursor}\",\"items\":\"/page/list\",\"id\":\"/id\","
    "\"from\":\"/sender/number\",\"text\":\"/body\",\"at\":\"/at\",\"cursor\":\"/page/next\"");
static const char WITHOUT_CURSOR[] =
    POLLED("\"url\":\"https://a.example/m\",\"items\":\"\",\"from\":\"/from\",\"text\":\"/text\"");

/* Polls once: how many came, the cursor moved on. */
static guint poll(Bench *bench, char **cursor, char **last)
{
    g_autoptr(GPtrArray) items = g_ptr_array_new_with_free_func((GDestroyNotify)incoming_free);
    g_autofree char *why = NULL;
    char *next = NULL;

    carry(bench, sms_poll_request(bench->gateway, *cursor, test_secret, NULL, &why));
    assert_true(sms_poll_read(bench->gateway, bench->answer, items, &next, &why));
    if (next != NULL) {
        g_free(*cursor);
        *cursor = next;
    }
    for (guint i = 0; i < items->len; i++) {
        const Incoming *item = items->pdata[i];
        assert_null(item->problem);
        assert_string_equal(item->from, "+447700900111");
        g_free(*last);
        *last = g_strdup(item->text);
    }
    return items->len;
}

static void put(Bench *bench, const char *id, const char *text)
{
    const HookMessage message = {id, "+447700900111", text, 1772438400000};

    standin_put(bench->standin, "texts", &message);
}

static void texts_wait_until_they_are_polled_for(void **state)
{
    static const char *const POLLS[] = {BY_CURSOR, WITHOUT_CURSOR};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(POLLS); i++) {
        Bench *bench = bench_new(POLLS[i]);
        g_autofree char *cursor = g_strdup("");
        g_autofree char *last = NULL;
        assert_int_equal(poll(bench, &cursor, &last), 0);
        put(bench, "in-1", "D 4 P0");
        put(bench, "in-2", "no, tired");
        assert_int_equal(poll(bench, &cursor, &last), 2);
        assert_string_equal(last, "no, tired");
        assert_int_equal(poll(bench, &cursor, &last), 0);
        bench_free(bench);
    }
}

static void an_old_cursor_gets_the_same_texts_again(void **state)
{
    Bench *bench = bench_new(BY_CURSOR);
    g_autofree char *cursor = g_strdup("");
    g_autofree char *last = NULL;

    (void)state;
    for (int i = 0; i < 120; i++)
        put(bench, "in", "D");
    assert_int_equal(poll(bench, &cursor, &last), 50);
    g_autofree char *kept = g_strdup(cursor);
    assert_int_equal(poll(bench, &cursor, &last), 50);
    assert_int_equal(poll(bench, &kept, &last), 50);
    assert_int_equal(poll(bench, &cursor, &last), 20);
    bench_free(bench);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reads_what_any_mapping_writes),
        cmocka_unit_test(the_same_message_twice_is_counted),
        cmocka_unit_test(a_sick_gateway_takes_nothing),
        cmocka_unit_test(a_number_that_nobody_has_is_refused),
        cmocka_unit_test(texts_wait_until_they_are_polled_for),
        cmocka_unit_test(an_old_cursor_gets_the_same_texts_again),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
