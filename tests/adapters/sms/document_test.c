/* SPDX-License-Identifier: Apache-2.0 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

#include "adapters/sms/document.h"

/* RFC 6901 section 5, the document and its pointers. */
static const char EXAMPLE[] = "{\"foo\":[\"bar\",\"baz\"],\"\":0,\"a/b\":1,\"c%d\":2,\"e^f\":3,"
                              "\"g|h\":4,\"i\\\\j\":5,\"k\\\"l\":6,\" \":7,\"m~n\":8}";

static void the_pointers_of_rfc_6901_lead_where_it_says(void **state)
{
    static const struct {
        const char *pointer;
        const char *value;
    } cases[] = {{"/foo/0", "bar"}, {"/", "0"},     {"/a~1b", "1"}, {"/c%d", "2"}, {"/e^f", "3"},
                 {"/g|h", "4"},     {"/i\\j", "5"}, {"/k\"l", "6"}, {"/ ", "7"},   {"/m~0n", "8"}};
    json_t *root = json_loads(EXAMPLE, 0, NULL);

    (void)state;
    assert_ptr_equal(document_find(root, ""), root);
    assert_true(json_is_array(document_find(root, "/foo")));
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *text = document_text(document_find(root, cases[i].pointer));
        assert_string_equal(text, cases[i].value);
    }
    json_decref(root);
}

static void a_pointer_that_leads_nowhere_finds_nothing(void **state)
{
    const char *const pointers[] = {"/foo/2",   "/foo/-",  "/foo/00",  "/foo/01",
                                    "/foo/0/x", "/foo/+0", "foo",      "/bar",
                                    "/foo//",   "/m~n/x",  "/foo/1e0", "/foo/99999999999999999999"};
    json_t *root = json_loads(EXAMPLE, 0, NULL);

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(pointers); i++)
        assert_null(document_find(root, pointers[i]));
    assert_null(document_find(root, NULL));
    assert_null(document_find(NULL, "/a"));
    json_decref(root);
}

static void check_form(const char *body, const char *key, const char *value)
{
    g_auto(Document) document = {0};

    document_read(&document, "application/x-www-form-urlencoded", body, strlen(body));
    assert_non_null(document.root);
    assert_string_equal(json_string_value(json_object_get(document.root, key)), value);
}

static void forms_are_decoded(void **state)
{
    (void)state;
    check_form("From=%2B44&Body=a+b%20c", "Body", "a b c");
    check_form("a&b=&=c", "a", "");
    check_form(" {\"a\": \"b=c\"}", "a", "b=c"); /* JSON that its sender calls a form */
    check_form("a=1=2", "a", "1=2");
    check_form("a=100%&b=%zz%4", "a", "100%");
    check_form("a=100%&b=%zz%4", "b", "%zz%4");
    check_form("a=x%00y", "a", "x\xef\xbf\xbdy");
    check_form("a=%C3%A9%FF", "a", "\xc3\xa9\xef\xbf\xbd");
}

static void numbers_and_texts_give_instants(void **state)
{
    static const struct {
        const char *json;
        int64_t ms;
    } cases[] = {{"0", 0},
                 {"1774857600", INT64_C(1774857600000)},
                 {"1774857600.25", INT64_C(1774857600250)},
                 {"1774857600123", INT64_C(1774857600123)},
                 {"\"1774857600\"", INT64_C(1774857600000)},
                 {"\"2026-03-30T08:00:00Z\"", INT64_C(1774857600000)},
                 {"\"\"", -1},
                 {"\"yesterday\"", -1},
                 {"\"1013-03-02T08:40:00Z\"", -1},
                 {"-5", -1},
                 {"1e300", -1},
                 {"\"inf\"", -1},
                 {"\"nan\"", -1},
                 {"true", -1},
                 {"{}", -1}};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        json_t *value = json_loads(cases[i].json, JSON_DECODE_ANY, NULL);
        assert_true(document_instant(value) == cases[i].ms);
        json_decref(value);
    }
    assert_true(document_instant(NULL) == -1);
}

static void hostile_bodies_are_told_and_do_no_harm(void **state)
{
    g_autofree char *deep = g_strnfill(100000, '[');
    const char *const bodies[] = {deep,
                                  "{\"a\":1,\"a\":2}",
                                  "{\"a\":\"\\ud800\"}",
                                  "[1,]",
                                  "[1] [2]",
                                  "{\"a\":1e999999}",
                                  "<a>",
                                  "a",
                                  "99999999999999999999"};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(bodies); i++) {
        g_auto(Document) document = {0};
        document_read(&document, "application/json", bodies[i], strlen(bodies[i]));
        assert_null(document.root);
        assert_non_null(document.why);
    }
}

/* Found by make fuzz TARGET=webhook: a reason that quoted such bytes could not be written into the ledger. */
static void a_reason_is_text_whatever_it_quotes(void **state)
{
    g_autofree char *many = g_strnfill(59, 'x');
    g_autofree char *twice =
        g_strdup_printf("%s%%F0%%9F%%98%%80=1&%s%%F0%%9F%%98%%80=2", many, many);
    g_autofree char *near = g_strdup_printf("{\"a\": %s\xf0\x9f\x98\x80\xf0\x9f\x98\x80}", many);
    const char *const cases[][2] = {{"t\xccxt/plain", "\001 nothing of either sort"},
                                    {"application/x-www-form-urlencoded", twice},
                                    {"application/json", near},
                                    {"application/json", "{\"\xf0\x9f"}};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_auto(Document) document = {0};
        document_read(&document, cases[i][0], cases[i][1], strlen(cases[i][1]));
        assert_null(document.root);
        assert_true(g_utf8_validate(document.why, -1, NULL));
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_pointers_of_rfc_6901_lead_where_it_says),
        cmocka_unit_test(a_pointer_that_leads_nowhere_finds_nothing),
        cmocka_unit_test(forms_are_decoded),
        cmocka_unit_test(numbers_and_texts_give_instants),
        cmocka_unit_test(hostile_bodies_are_told_and_do_no_harm),
        cmocka_unit_test(a_reason_is_text_whatever_it_quotes),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
