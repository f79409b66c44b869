/* SPDX-License-Identifier: Apache-2.0 */
/* What a status says to people and to machines. */
#include "daemon/control/health.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/control/metrics.h"

static Clinic CLINIC = {.name = (char *)"Saltmarsh Lane", .zone = (char *)"Europe/London"};

/* A status in which all is well, with a text in it changed. now is before any zone database can be a year old. */
static json_t *status_with(const char *was, const char *is)
{
    static const char WELL[] =
        "{\"clinic\":\"Saltmarsh "
        "Lane\",\"zone\":\"Europe/London\",\"now\":\"2024-07-01T07:30:00Z\","
        "\"sender\":true,\"clients\":3,\"waiting\":0,\"oldest_waiting\":null,\"alerts\":0,"
        "\"alerts_now\":0,\"alerts_today\":0,\"untaken_now\":0,\"unread\":0,\"oldest_unread\":null,"
        "\"glance\":0,\"next_due\":\"2024-07-01T08:00:00Z\",\"events\":17,"
        "\"gateways\":[{\"name\":\"texts\",\"kind\":\"http-sms\",\"up\":true,\"circuit\":"
        "\"closed\","
        "\"failures\":0,\"sends\":true}],"
        "\"polls\":[{\"name\":\"texts\",\"last\":\"2024-07-01T07:29:30Z\",\"failures\":0}],"
        "\"backup\":{\"at\":\"2024-07-01T02:00:00Z\",\"file\":\"f\",\"problem\":null,"
        "\"next\":\"2024-07-02T02:00:00Z\"}}";
    GString *text = g_string_new(WELL);

    if (was != NULL) assert_int_equal(g_string_replace(text, was, is, 0), 1);
    json_t *status = json_loads(text->str, 0, NULL);
    g_string_free(text, TRUE);
    assert_non_null(status);
    Gateway texts = {.name = (char *)"texts"};
    g_autoptr(GPtrArray) gateways = g_ptr_array_new();
    g_ptr_array_add(gateways, &texts);
    CLINIC.gateways = gateways;
    health_add(status, &CLINIC);
    return status;
}

static const char *text_of(const json_t *object, const char *field)
{
    return json_string_value(json_object_get(object, field));
}

/* One note, whose sentence holds words. */
static void says(const char *was, const char *is, const char *state, const char *words)
{
    json_t *status = status_with(was, is);
    const json_t *notes = json_object_get(status, "notes");
    const json_t *note = json_array_get(notes, 0);

    assert_string_equal(text_of(status, "state"), state);
    assert_int_equal(json_array_size(notes), 1);
    if (strstr(text_of(note, "say"), words) == NULL)
        fail_msg("'%s' holds no '%s'", text_of(note, "say"), words);
    assert_true(strlen(text_of(note, "do")) > 0);
    json_decref(status);
}

static void when_all_is_well_nothing_is_said(void **state)
{
    json_t *status = status_with(NULL, NULL);

    (void)state;
    assert_string_equal(text_of(status, "state"), "well");
    assert_int_equal(json_array_size(json_object_get(status, "notes")), 0);
    /* Summer time in London */
    assert_string_equal(text_of(status, "local"), "Monday 1 July 2024, 08:30");
    json_decref(status);
}

static void each_trouble_has_its_sentence(void **state)
{
    (void)state;
    says("\"untaken_now\":0", "\"untaken_now\":1", "ill", "1 urgent matter is taken by nobody");
    says("\"sender\":true", "\"sender\":true,\"store\":{\"writes\":false,\"problem\":\"no room\"}",
         "ill", "NOTHING CAN BE WRITTEN: no room.");
    says("\"sender\":true", "\"sender\":true,\"store\":{\"writes\":true,\"free\":199000000}",
         "look", "nearly full: 199 MB");
    says("\"sender\":true", "\"sender\":true,\"store\":{\"writes\":true,\"free\":1900000}", "ill",
         "nearly full: 1 MB");
    says("\"alerts_today\":0", "\"alerts_today\":2", "look", "2 matters are open");
    says("\"unread\":0,\"oldest_unread\":null",
         "\"unread\":2,\"oldest_unread\":\"2024-06-30T18:00:00Z\"", "look",
         "the oldest came on Sunday 30 June 2024, 19:00");
    says("\"glance\":0", "\"glance\":1", "look", "1 reply was read well");
    says("\"circuit\":\"closed\"", "\"circuit\":\"open\"", "ill", "Texts do not get out");
    says("\"kind\":\"http-sms\",\"up\":true,\"circuit\":\"closed\"",
         "\"kind\":\"mail\",\"up\":false,\"circuit\":\"trying\"", "ill", "Mails do not get out");
    says("\"sends\":true", "\"sends\":false", "look", "NOTHING IS SENT");
    says("\"sender\":true", "\"sender\":false", "look", "another one of the clinic");
    says("\"sends\":true}],", "\"sends\":false}],\"sender\":false,", "look",
         "another one of the clinic");
    says("\"problem\":null", "\"problem\":\"no room on the device\"", "ill",
         "The last copy at night failed: no room on the device.");
    says("\"now\":\"2024-07-01T07:30:00Z\"", "\"now\":\"2099-07-01T07:30:00Z\"", "look",
         "The zone database is of 20");
}

/* Nobody is told that somebody is being called when nobody is. */
static void who_cannot_write_can_call_nobody(void **state)
{
    json_t *status =
        status_with("\"untaken_now\":0", "\"untaken_now\":1,\"store\":{\"writes\":false,"
                                         "\"problem\":null}");
    const json_t *notes = json_object_get(status, "notes");

    (void)state;
    assert_non_null(strstr(text_of(json_array_get(notes, 0), "say"), "NOTHING CAN BE WRITTEN"));
    assert_non_null(strstr(text_of(json_array_get(notes, 1), "say"), "can call nobody"));
    assert_non_null(strstr(text_of(json_array_get(notes, 1), "do"), "Ring a clinician yourself"));
    json_decref(status);
}

/* A poll or two that fail are the weather; a quarter of an hour is not. */
static void a_gateway_that_is_silent_is_told_after_a_while(void **state)
{
    json_t *status = status_with("07:29:30Z\",\"failures\":0", "07:29:30Z\",\"failures\":9");

    (void)state;
    assert_string_equal(text_of(status, "state"), "well");
    json_decref(status);
    says("07:29:30Z\",\"failures\":0", "06:29:30Z\",\"failures\":9", "ill",
         "Replies do not come in: the gateway texts last answered on Monday 1 July 2024, 07:29");
    says("\"last\":\"2024-07-01T07:29:30Z\",\"failures\":0", "\"last\":null,\"failures\":2", "ill",
         "has not answered since osier started");
}

static void a_probe_is_told_in_brief(void **state)
{
    json_t *status = status_with("\"untaken_now\":0", "\"untaken_now\":1");
    json_t *brief = health_brief(status);
    g_autofree char *text = json_dumps(brief, JSON_SORT_KEYS | JSON_COMPACT);

    (void)state;
    assert_string_equal(text, "{\"grave\":1,\"notes\":1,\"now\":\"2024-07-01T07:30:00Z\","
                              "\"state\":\"ill\"}");
    json_decref(brief);
    json_decref(status);
}

/* --- OpenMetrics --- */

/* OpenMetrics 1.0.0, section "ABNF": a line of metadata, or a sample with one label at most, as this program writes them;
 * families are not interleaved, a counter's samples end in _total, the text ends with the line EOF. */
static void check_grammar(const char *text)
{
    g_autoptr(GRegex) meta =
        g_regex_new("^# (TYPE|UNIT|HELP) ([a-zA-Z_:][a-zA-Z0-9_:]*) ([^\\n]+)$", 0, 0, NULL);
    g_autoptr(GRegex) sample =
        g_regex_new("^([a-zA-Z_:][a-zA-Z0-9_:]*)(\\{[a-zA-Z_][a-zA-Z0-9_]*=\"([^\"\\\\\\n]|"
                    "\\\\[\\\\n\"])*\"\\})? (-?[0-9]+(\\.[0-9]+)?)$",
                    0, 0, NULL);
    g_auto(GStrv) lines = g_strsplit(text, "\n", -1);
    g_autoptr(GHashTable) seen = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
    guint n = g_strv_length(lines);
    g_autofree char *family = g_strdup("");
    bool counts = false;

    assert_true(n > 2);
    assert_string_equal(lines[n - 1], "");
    assert_string_equal(lines[n - 2], "# EOF");
    for (guint i = 0; i < n - 2; i++) {
        g_autoptr(GMatchInfo) match = NULL;
        if (g_regex_match(meta, lines[i], 0, &match)) {
            g_autofree char *name = g_match_info_fetch(match, 2);
            g_autofree char *word = g_match_info_fetch(match, 1);
            g_autofree char *value = g_match_info_fetch(match, 3);
            if (strcmp(word, "TYPE") == 0) {
                assert_true(g_hash_table_add(seen, g_strdup(name)));
                g_free(family);
                family = g_strdup(name);
                counts = strcmp(value, "counter") == 0;
            } else {
                assert_string_equal(name, family);
            }
            if (strcmp(word, "UNIT") == 0) assert_true(g_str_has_suffix(name, value));
            continue;
        }
        g_clear_pointer(&match, g_match_info_unref);
        if (!g_regex_match(sample, lines[i], 0, &match)) fail_msg("no sample: %s", lines[i]);
        g_autofree char *name = g_match_info_fetch(match, 1);
        g_autofree char *wanted = g_strconcat(family, counts ? "_total" : "", NULL);
        assert_string_equal(name, wanted);
    }
}

static void figures_keep_the_grammar(void **state)
{
    Tally tally = {.events = 40, .fates = {[FATE_LAPSED] = 2}, .alerts = {1, 0, 3}};
    json_t *status = status_with("\"alerts_now\":0", "\"alerts_now\":1");
    g_autofree char *text = metrics_text(status, &tally);

    (void)state;
    check_grammar(text);
    assert_non_null(strstr(text, "\nosier_alerts_open{class=\"now\"} 1\n"));
    assert_non_null(strstr(text, "\nosier_messages_settled_total{fate=\"lapsed\"} 2\n"));
    assert_non_null(strstr(text, "\nosier_alerts_opened_total{class=\"digest\"} 3\n"));
    assert_non_null(strstr(text, "\nosier_now_seconds 1719819000.000\n"));
    json_decref(status);
}

static void a_label_is_escaped(void **state)
{
    Tally tally = {0};
    json_t *status = status_with(NULL, NULL);
    json_t *gateway = json_array_get(json_object_get(status, "gateways"), 0);

    (void)state;
    json_object_set_new(gateway, "name", json_string("te\"x\\t\ns"));
    g_autofree char *text = metrics_text(status, &tally);
    check_grammar(text);
    assert_non_null(strstr(text, "osier_gateway_well{gateway=\"te\\\"x\\\\t\\ns\"} 1\n"));
    json_decref(status);
}

/* The figures say of a gateway what the sentences say. */
static void a_gateway_is_well_where_it_can_be_reached(void **state)
{
    static const struct {
        const char *was, *is, *figure;
    } CASES[] = {
        {"\"up\":true", "\"up\":true", "osier_gateway_well{gateway=\"texts\"} 1\n"},
        {"\"up\":true", "\"up\":false", "osier_gateway_well{gateway=\"texts\"} 0\n"},
        {"\"backup\"", "\"line\":{\"down\":true,\"since\":null},\"backup\"",
         "\nosier_line_down 1\n"},
        {"\"events\":17", "\"events\":17", "\nosier_line_down 0\n"},
        {"\"sender\":true,\"clients\"", "\"sender\":false,\"clients\"",
         "well{gateway=\"texts\"} 1\n"},
    };
    Tally tally = {0};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(CASES); i++) {
        json_t *status = status_with(CASES[i].was, CASES[i].is);
        g_autofree char *text = metrics_text(status, &tally);
        check_grammar(text);
        if (strstr(text, CASES[i].figure) == NULL) fail_msg("%s: %s", CASES[i].figure, text);
        json_decref(status);
    }
}

#define HOOK                                                                                       \
    "\"hooks\":[{\"name\":\"texts\",\"refused\":4,\"since\":\"%s\",\"last\":\"%s\","               \
    "\"unreadable\":0,\"unreadable_last\":null}],\"backup\""

/* Yesterday's noise is over. */
static void hooks_that_are_refused_are_told_for_a_day(void **state)
{
    g_autofree char *now = g_strdup_printf(HOOK, "2024-07-01T07:00:00Z", "2024-07-01T07:20:00Z");
    g_autofree char *old = g_strdup_printf(HOOK, "2024-06-29T07:00:00Z", "2024-06-30T07:20:00Z");

    (void)state;
    says("\"backup\"", now, "look",
         "Webhooks of the gateway texts are refused since Monday 1 July 2024, 08:00");
    json_t *status = status_with("\"backup\"", old);
    assert_string_equal(text_of(status, "state"), "well");
    json_decref(status);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(when_all_is_well_nothing_is_said),
        cmocka_unit_test(each_trouble_has_its_sentence),
        cmocka_unit_test(who_cannot_write_can_call_nobody),
        cmocka_unit_test(a_gateway_that_is_silent_is_told_after_a_while),
        cmocka_unit_test(a_probe_is_told_in_brief),
        cmocka_unit_test(figures_keep_the_grammar),
        cmocka_unit_test(a_label_is_escaped),
        cmocka_unit_test(a_gateway_is_well_where_it_can_be_reached),
        cmocka_unit_test(hooks_that_are_refused_are_told_for_a_day),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
