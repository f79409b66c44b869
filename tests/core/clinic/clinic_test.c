/* SPDX-License-Identifier: Apache-2.0 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

#include "core/clinic/clinic.h"

static const char SMALLEST[] =
    "{'clinic': {'name': 'Saltmarsh Lane', 'zone': 'Europe/London', 'phone': '+442079460100',"
    "            'emergency': '999', 'hours': {'mon-fri': '08:30-17:30', 'sat': '09:00-12:00'},"
    "            'closed': ['2026-12-25', '2026-12-28/2026-12-31'],"
    "            'digest': {'to': ['desk@clinic.example']}},"
    " 'duty': [{'name': 'R. Okafor', 'sms': '+442079460190'}],"
    " 'gateways': {'spool': {'kind': 'spool'}}}";

/* JSON with single quotes, for the eye's sake. */
static json_t *tree_of(const char *text)
{
    g_autofree char *json = g_strdelimit(g_strdup(text), "'", '"');
    json_t *tree = json_loads(json, 0, NULL);

    assert_non_null(tree);
    return tree;
}

static Clinic *read_fine(json_t *tree)
{
    g_autoptr(Faults) faults = faults_new();
    Clinic *clinic = clinic_read(tree, faults);

    for (guint i = 0; i < faults->items->len; i++) {
        const Fault *fault = faults->items->pdata[i];
        print_message("%s: %s: %s\n", fault->pointer, fault->value, fault->why);
    }
    assert_non_null(clinic);
    assert_int_equal(faults->items->len, 0);
    return clinic;
}

static LocalTime at(const char *text)
{
    LocalTime local;

    assert_true(local_parse(text, &local));
    return local;
}

static void opens_next(const Clinic *clinic, const char *from, const char *expected)
{
    LocalTime next;

    assert_true(clinic_next_open(clinic, at(from), &next));
    g_autofree char *text = local_format(next);
    assert_string_equal(text, expected);
}

static void what_is_not_said_has_its_usual_value(void **state)
{
    json_t *tree = tree_of(SMALLEST);
    g_autoptr(Clinic) clinic = read_fine(tree);

    (void)state;
    json_decref(tree); /* the settings stand alone */
    assert_string_equal(clinic->language, "en");
    assert_int_equal(clinic->quiet.start_second, 21 * 3600);
    assert_int_equal(clinic->quiet.end_second, 8 * 3600);
    assert_int_equal(clinic->digest_weekday, 1);
    assert_int_equal(clinic->digest_second, 8 * 3600);
    assert_int_equal(clinic->again_ms, 30 * MINUTE_MS);
    assert_int_equal(clinic->pain_now, 7);
    assert_int_equal(clinic->pain_today, 4);
    assert_int_equal(clinic->missed_run, 3);
    assert_int_equal(clinic->intensity_high, 7);
    assert_int_equal(clinic->per_day_max, 4);
    assert_int_equal(clinic->reminder_ends_ms, 3 * HOUR_MS);
    assert_int_equal(clinic->nudge_after_ms, 4 * HOUR_MS);
    assert_int_equal(clinic->silent_after_ms, 20 * HOUR_MS);
    assert_string_equal(clinic->page_listen, "127.0.0.1:8750");
    assert_null(clinic->hooks_listen);
    assert_null(clinic->after_hours_phone);
    const DutyPerson *person = clinic->duty->pdata[0];
    assert_int_equal(person->after_ms, 15 * MINUTE_MS);
    assert_non_null(clinic_gateway(clinic, "spool"));
    assert_null(clinic_gateway(clinic, "texts"));
}

static void open_within_hours_but_not_on_holidays(void **state)
{
    json_t *tree = tree_of(SMALLEST);
    g_autoptr(Clinic) clinic = read_fine(tree);

    (void)state;
    assert_true(clinic_open(clinic, at("2026-03-02T08:30")));
    assert_false(clinic_open(clinic, at("2026-03-02T08:29")));
    assert_false(clinic_open(clinic, at("2026-03-02T17:30")));
    assert_true(clinic_open(clinic, at("2026-03-07T11:59")));
    assert_false(clinic_open(clinic, at("2026-03-08T11:00")));
    assert_false(clinic_open(clinic, at("2026-12-25T11:00")));
    opens_next(clinic, "2026-03-02T10:00", "2026-03-02T10:00");
    opens_next(clinic, "2026-03-02T07:00", "2026-03-02T08:30");
    opens_next(clinic, "2026-03-06T17:30", "2026-03-07T09:00");
    opens_next(clinic, "2026-03-07T12:00", "2026-03-09T08:30");
    opens_next(clinic, "2026-12-24T18:00", "2026-12-26T09:00");
    opens_next(clinic, "2026-12-26T12:00", "2027-01-01T08:30");
    json_decref(tree);
}

static void closed_for_a_year_has_no_next_hour(void **state)
{
    json_t *tree = tree_of(SMALLEST);
    LocalTime next;

    (void)state;
    json_array_append_new(json_object_get(json_object_get(tree, "clinic"), "closed"),
                          json_string("2026-01-01/2028-01-01"));
    g_autoptr(Clinic) clinic = read_fine(tree);
    assert_false(clinic_next_open(clinic, at("2026-03-02T10:00"), &next));
    json_decref(tree);
}

static void days_by_name_list_and_span(void **state)
{
    json_t *tree = tree_of(SMALLEST);

    (void)state;
    json_object_set_new(json_object_get(tree, "clinic"), "hours",
                        json_pack("{s:s, s:s, s:s}", "sat-mon", "10:00-24:00", "tue,thursday",
                                  "07:00-08:00", "wed", "closed"));
    g_autoptr(Clinic) clinic = read_fine(tree);
    static const int OPEN[8] = {0, 10, 7, 0, 7, 0, 10, 10};
    for (int day = 1; day <= 7; day++)
        assert_int_equal(clinic->hours[day].open, OPEN[day] * 3600);
    assert_true(clinic_open(clinic, at("2026-03-07T23:59:59")));
    json_decref(tree);
}

static void national_numbers_become_international(void **state)
{
    json_t *tree = tree_of(SMALLEST);
    json_t *profile = json_object_get(tree, "clinic");

    (void)state;
    json_object_set_new(profile, "country_code", json_integer(44));
    json_object_set_new(profile, "phone", json_string("020 7946 0100"));
    json_object_set_new(profile, "crisis", json_string("116 123"));
    g_autoptr(Clinic) clinic = read_fine(tree);
    assert_string_equal(clinic->phone, "+442079460100");
    assert_string_equal(clinic->crisis, "116123");
    assert_string_equal(clinic->country_code, "44");
    json_decref(tree);
}

static void nothing_at_all_is_a_fault(void **state)
{
    static const char *const NOTHING[] = {"[]", "{}", "{'clinic': {}}",
                                          "{'clinic': [], 'duty': {}, 'gateways': 3}"};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(NOTHING); i++) {
        g_autoptr(Faults) faults = faults_new();
        json_t *tree = tree_of(NOTHING[i]);
        assert_null(clinic_read(tree, faults));
        assert_true(faults->items->len > 0);
        json_decref(tree);
    }
}

#define SEND                                                                                       \
    "'send': {'url': 'https://gateway.example/send', 'json': {'to': '{to}', 'text': '{text}'%s}}"

/* The settings with these gateways. */
static json_t *tree_with(const char *gateways)
{
    json_t *tree = tree_of(SMALLEST);

    json_object_set_new(tree, "gateways", tree_of(gateways));
    return tree;
}

static void gateways_may_serve_countries(void **state)
{
    g_autofree char *send = g_strdup_printf(SEND, "");
    g_autofree char *text =
        g_strdup_printf("{'home': {'kind': 'http-sms', 'for': ['44', '353'], %s},"
                        " 'isle': {'kind': 'http-sms', 'for': '1', %s},"
                        " 'world': {'kind': 'http-sms', %s}}",
                        send, send, send);
    json_t *tree = tree_with(text);
    g_autoptr(Clinic) clinic = read_fine(tree);

    (void)state;
    const Gateway *home = clinic_gateway(clinic, "home");
    assert_int_equal(home->countries->len, 2);
    assert_string_equal(home->countries->pdata[1], "353");
    assert_int_equal(clinic_gateway(clinic, "isle")->countries->len, 1);
    assert_int_equal(clinic_gateway(clinic, "world")->countries->len, 0);
    json_decref(tree);
}

/* One gateway of these keys: its only fault is there. */
static void fault_is(const char *keys, bool gives_id, const char *pointer, const char *why)
{
    g_autofree char *send = g_strdup_printf(SEND, gives_id ? ", 'ref': '{id}'" : "");
    g_autofree char *text = g_strdup_printf(
        "{'home': {'kind': 'http-sms', %s, %s}, 'world': {'kind': 'spool'}}", keys, send);
    json_t *tree = tree_with(text);
    g_autoptr(Faults) faults = faults_new();

    assert_null(clinic_read(tree, faults));
    const Fault *fault = faults->items->pdata[0];
    assert_string_equal(fault->pointer, pointer);
    if (strstr(fault->why, why) == NULL) fail_msg("%s: %s", fault->pointer, fault->why);
    json_decref(tree);
}

static void countries_and_questions_are_checked(void **state)
{
    (void)state;
    fault_is("'for': ['+44']", false, "/gateways/home/for/0", "country code");
    fault_is("'for': ['044']", false, "/gateways/home/for/0", "country code");
    fault_is("'for': ['44207946']", false, "/gateways/home/for/0", "country code");
    fault_is("'for': 'uk'", false, "/gateways/home/for", "country code");
    fault_is("'for': []", false, "/gateways/home/for", "is empty");
    fault_is("'for': ['44']", false, "/gateways/home", "one must serve all other numbers");
    fault_is("'ask': {'url': 'https://gateway.example/{id}'}", true, "/gateways/home/ask",
             "is missing");
    fault_is("'ask': {'url': 'https://gateway.example/', 'id': '/id'}", true,
             "/gateways/home/ask/url", "does not hold {id}");
    fault_is("'ask': {'url': 'https://gateway.example/{id}', 'id': '/id'}", false,
             "/gateways/home/ask/url", "which send does not give");
    fault_is("'ask': {'url': 'https://gateway.example/{id}', 'id': '/id', 'none': 99}", true,
             "/gateways/home/ask/none", "HTTP status");
}

static Clinic *read_with_store(const char *store, Faults *faults)
{
    json_t *tree = tree_of(SMALLEST), *place = tree_of(store);

    json_object_set_new(tree, "store", place);
    Clinic *clinic = clinic_read(tree, faults);
    json_decref(tree);
    return clinic;
}

static void refuses_store(const char *store, const char *pointer)
{
    g_autoptr(Faults) faults = faults_new();

    assert_null(read_with_store(store, faults));
    assert_int_equal(faults->items->len, 1);
    assert_string_equal(((const Fault *)faults->items->pdata[0])->pointer, pointer);
}

static void a_store_elsewhere_is_named_whole_and_without_its_password(void **state)
{
    g_autoptr(Faults) faults = faults_new();
    g_autoptr(Clinic) clinic = read_with_store(
        "{'kind': 'postgres', 'connect': 'host=db.example', 'schema': 'lane_1'}", faults);

    (void)state;
    assert_non_null(clinic);
    assert_string_equal(clinic->store_connect, "host=db.example");
    assert_string_equal(clinic->store_schema, "lane_1");
    refuses_store("{'kind': 'paper'}", "/store/kind");
    refuses_store("{'kind': 'sqlite', 'schema': 'lane'}", "/store/schema");
    refuses_store("{'kind': 'postgres', 'connect': 'host=db.example'}", "/store");
    refuses_store("{'kind': 'postgres', 'connect': 'host=db.example', 'schema': 'lane; drop'}",
                  "/store/schema");
    refuses_store("{'kind': 'postgres', 'connect': 'host=db.example', 'schema': 'pg_catalog'}",
                  "/store/schema");
    refuses_store("{'kind': 'postgres', 'connect': 'password=open', 'schema': 'lane'}",
                  "/store/connect");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_not_said_has_its_usual_value),
        cmocka_unit_test(a_store_elsewhere_is_named_whole_and_without_its_password),
        cmocka_unit_test(open_within_hours_but_not_on_holidays),
        cmocka_unit_test(closed_for_a_year_has_no_next_hour),
        cmocka_unit_test(days_by_name_list_and_span),
        cmocka_unit_test(national_numbers_become_international),
        cmocka_unit_test(nothing_at_all_is_a_fault),
        cmocka_unit_test(gateways_may_serve_countries),
        cmocka_unit_test(countries_and_questions_are_checked),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
