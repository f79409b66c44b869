/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/log/log.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>

#include <cmocka.h>
#include <string.h>

#include "core/calendar/date.h"
#include "daemon/log/told.h"

#define NOON INT64_C(1772452800000) /* 2026-03-02T12:00:00Z */

typedef struct {
    Clock *clock;
    Log *log;
    FILE *to;
    char *text;
    size_t length;
} Paper;

static Paper *paper_new(LogLevel level, bool journal)
{
    Paper *paper = g_new0(Paper, 1);

    paper->clock = clock_stepped_new(NOON);
    paper->to = open_memstream(&paper->text, &paper->length);
    paper->log = log_new(paper->to, level, paper->clock, journal);
    return paper;
}

static void paper_free(Paper *paper)
{
    log_free(paper->log);
    clock_free(paper->clock);
    fclose(paper->to);
    free(paper->text);
    g_free(paper);
}

static int lines_of(const Paper *paper)
{
    int n = 0;

    for (const char *p = paper->text; *p != '\0'; p++)
        n += *p == '\n';
    return n;
}

static void a_line_is_key_and_value(void **state)
{
    Paper *paper = paper_new(LOG_PLAIN, false);

    (void)state;
    log_line(paper->log, LOG_WARNINGS, "gateway.sick", "gateway", "texts", "why", NULL, "then",
             "it \"waits\"\n\x1b[31m", NULL);
    assert_string_equal(paper->text, "at=2026-03-02T12:00:00Z level=warning event=gateway.sick "
                                     "gateway=texts then=\"it \\\"waits\\\"\\u000a\\u001b[31m\"\n");
    paper_free(paper);
}

/* The priorities are those of sd-daemon(3). */
static void a_journal_gets_priorities(void **state)
{
    Paper *paper = paper_new(LOG_PLAIN, true);

    (void)state;
    log_line(paper->log, LOG_ERRORS, "store.full", NULL);
    log_line(paper->log, LOG_FULL, "not.wanted", NULL);
    assert_true(g_str_has_prefix(paper->text, "<3>"));
    assert_int_equal(lines_of(paper), 1);
    paper_free(paper);
}

static void hostile_values_stay_on_their_line(void **state)
{
    Paper *paper = paper_new(LOG_PLAIN, false);
    g_autofree char *endless = g_strnfill(100000, 'x');

    (void)state;
    log_line(paper->log, LOG_PLAIN, "a", "v", endless, NULL);
    log_line(paper->log, LOG_PLAIN, "b", "v", "\xff\xfe\xe2\x80\xae level=error", NULL);
    log_line(paper->log, LOG_PLAIN, "c", "v", "", NULL);
    assert_int_equal(lines_of(paper), 3);
    assert_true(paper->length < 1000);
    assert_true(g_utf8_validate(paper->text, -1, NULL));
    assert_null(strstr(paper->text, "\xe2\x80\xae")); /* turns the line round on a screen */
    assert_non_null(strstr(paper->text, "event=c v=\"\"\n"));
    paper_free(paper);
}

static void a_flood_is_counted_and_not_written(void **state)
{
    Paper *paper = paper_new(LOG_PLAIN, false);

    (void)state;
    for (int i = 0; i < 5000; i++)
        log_line(paper->log, LOG_WARNINGS, "hook.refused", NULL);
    log_line(paper->log, LOG_WARNINGS, "copy.failed", NULL);
    assert_int_equal(lines_of(paper), 11);
    clock_move(paper->clock, NOON + MINUTE_MS);
    log_line(paper->log, LOG_WARNINGS, "hook.refused", NULL);
    assert_non_null(strstr(paper->text, "event=hook.refused left_out=4990\n"));
    paper_free(paper);
}

static void levels_have_names(void **state)
{
    LogLevel level;

    (void)state;
    assert_true(log_level_parse("full", &level));
    assert_int_equal(level, LOG_FULL);
    assert_false(log_level_parse("Full", &level));
    assert_false(log_level_parse("", &level));
    log_line(NULL, LOG_ERRORS, "nobody.listens", NULL);
    assert_false(log_is_full(NULL));
}

/* --- what is told of an event --- */

static char *told(bool full, const char *kind, const char *subject, json_t *body)
{
    Tally tally = {0};
    GString *lines = g_string_new(NULL);
    Event event = {.kind = (char *)kind, .subject = (char *)subject, .author = (char *)"client"};

    told_event(&tally, lines, full, &event, body);
    assert_int_equal(tally.events, 1);
    json_decref(body);
    return g_string_free(lines, FALSE);
}

static json_t *received(void)
{
    return json_pack("{s:s, s:s, s:s, s:s, s:s}", "gateway", "texts", "channel", "sms", "from",
                     "+442079460001", "text", "I fell", "why", "words");
}

static void ids_are_told_and_people_are_not(void **state)
{
    g_autofree char *plain = told(false, "reply.received", "9c41", received());
    g_autofree char *full = told(true, "reply.received", "9c41", received());
    g_autofree char *client =
        told(false, "client.set", "K7QF2M9T", json_pack("{s:s}", "value", "Ada N."));
    g_autofree char *unknown =
        told(false, "a.later.kind", "K7QF2M9T", json_pack("{s:s}", "x", "y"));

    (void)state;
    assert_string_equal(plain, " event=reply.received reply=9c41 gateway=texts channel=sms\n");
    assert_null(strstr(full, "fell")); /* a reply's words are told at no level */
    assert_non_null(strstr(full, "why=words"));
    assert_string_equal(client, " event=client.set\n");
    assert_string_equal(unknown, " event=a.later.kind\n");
}

static void what_is_written_is_counted(void **state)
{
    Tally tally = {0};
    Tally sum = {0};
    Event settled = {.kind = (char *)"message.settled", .subject = (char *)"K7QF2M9T"};
    Event opened = {.kind = (char *)"alert.opened", .subject = (char *)"3f8a"};
    json_t *fate = json_pack("{s:s}", "fate", "lapsed");
    json_t *class = json_pack("{s:s}", "class", "today");

    (void)state;
    told_event(&tally, NULL, false, &settled, fate);
    told_event(&tally, NULL, false, &settled, NULL); /* erased: its body is gone */
    told_event(&tally, NULL, false, &opened, class);
    tally_add(&sum, &tally);
    tally_add(&sum, &tally);
    assert_int_equal(sum.events, 6);
    assert_int_equal(sum.fates[FATE_LAPSED], 2);
    assert_int_equal(sum.alerts[1], 2);
    json_decref(fate);
    json_decref(class);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_line_is_key_and_value),
        cmocka_unit_test(a_journal_gets_priorities),
        cmocka_unit_test(hostile_values_stay_on_their_line),
        cmocka_unit_test(a_flood_is_counted_and_not_written),
        cmocka_unit_test(levels_have_names),
        cmocka_unit_test(ids_are_told_and_people_are_not),
        cmocka_unit_test(what_is_written_is_counted),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
