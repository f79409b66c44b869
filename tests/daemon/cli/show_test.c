/* SPDX-License-Identifier: Apache-2.0 */
/* Answers as a person reads them: what speaks for and against, what is uncertain, what was erased. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>
#include <glib/gstdio.h>

#include "daemon/cli/ask.h"

typedef void Show(const json_t *answer);

/* What is printed of an answer, in JSON with single quotes; g_free. */
static char *told(Show *show, const char *json)
{
    g_autofree char *quoted = g_strdelimit(g_strdup(json), "'", '"');
    g_autofree char *path = NULL;
    json_t *answer = json_loads(quoted, 0, NULL);
    int file = g_file_open_tmp("show-XXXXXX", &path, NULL);
    int before = dup(STDOUT_FILENO);
    char *text = NULL;

    assert_non_null(answer);
    assert_true(file >= 0 && before >= 0);
    fflush(stdout);
    dup2(file, STDOUT_FILENO);
    show(answer);
    fflush(stdout);
    dup2(before, STDOUT_FILENO);
    close(before);
    close(file);
    assert_true(g_file_get_contents(path, &text, NULL, NULL));
    g_unlink(path);
    json_decref(answer);
    return text;
}

static void reads(Show *show, const char *json, const char *wanted)
{
    g_autofree char *text = told(show, json);

    assert_string_equal(text, wanted);
}

static void what_speaks_for_and_against_moving_on_is_marked(void **state)
{
    (void)state;
    reads(show_ready,
          "{'verdict': 'step back', 'stage': 'strap', 'to': 'ball', 'stage_since': '2026-03-02',"
          " 'reasons': ["
          "  {'rule': 'done of them', 'value': 9, 'limit': 8, 'met': true},"
          "  {'rule': 'felt', 'value': null, 'limit': 'not electric', 'met': false},"
          "  {'rule': 'step back: pain over the usual', 'value': 2, 'limit': 2, 'met': true},"
          "  {'rule': 'step back: too strong', 'value': 0, 'limit': 3, 'met': false}],"
          " 'window_void': true, 'one_dose_lower': true}",
          "step back: from strap to ball, there since 2026-03-02\n"
          "  + done of them: 9, limit 8\n"
          "  - felt: nothing told (not electric)\n"
          "  ! step back: pain over the usual: 2, limit 2\n"
          "    step back: too strong: 0, limit 3\n"
          "Two weeks off: what was told before no longer counts. Ask what happened.\n"
          "Go on one dose lower until the window is full again.\n"
          "A clinician confirms: osier plan move.\n");
    reads(show_ready, "{'verdict': 'stay', 'stage': 'ball', 'to': 'ball', 'stage_since': '-'}",
          "stay at ball, there since -\nA clinician confirms: osier plan move.\n");
}

static void what_was_never_due_has_no_rate(void **state)
{
    (void)state;
    reads(show_adherence,
          "{'done': 0, 'prescribed': 2, 'partly': 0, 'not': 0, 'silent': 0, 'unasked': 1,"
          " 'excused': 1, 'rate': null, 'due': 0}",
          "0 of 2 done, 0 in part, 0 not done, 0 no answer, 1 not asked, 1 excused\n"
          "nothing was due, so there is no rate\n");
    reads(show_adherence,
          "{'done': 5, 'prescribed': 10, 'partly': 1, 'not': 1, 'silent': 2, 'unasked': 1,"
          " 'excused': 0, 'rate': 0.611, 'due': 9, 'low': 0.3, 'high': 0.85, 'bounds': [0.5, 0.8]}",
          "5 of 10 done, 1 in part, 1 not done, 2 no answer, 1 not asked, 0 excused\n"
          "rate 61 % of 9 due (95 % interval 30 to 85 %); between 50 and 80 %, whatever became of "
          "those without an answer\n");
}

static void a_measure_says_what_it_cannot_decide_and_what_it_called(void **state)
{
    (void)state;
    reads(show_measure,
          "{'date': '2026-03-10', 'movement': 'leg-raise', 'side': 'left', 'method': 'door',"
          " 'value': 71.25, 'unit': 'deg', 'reach_cm': 27.0, 'leg_cm': 84.0, 'leg_estimated': true,"
          " 'by': 'client', 'verdict': 'within measuring error', 'beside': 68.0,"
          " 'beside_date': '2026-02-10', 'change': 3.25, 'mdc': 11.1,"
          " 'supports_only': true}",
          "2026-03-10  leg-raise left, door: 71.2 deg (from 27.0 cm, leg 84.0 cm estimated from "
          "stature), by client\n"
          "            within measuring error beside 68.0 on 2026-02-10 (change +3.2, counts from "
          "11.1)\n"
          "            measured by the client: it supports, and never decides\n");
    reads(show_measure,
          "{'date': '2026-03-10', 'movement': 'height', 'side': 'both', 'method': "
          "'stadiometer', 'value': 161.0, 'unit': 'cm', 'by': 'R. Okafor', 'alert': 'K7QF2M9T'}",
          "2026-03-10  height both, stadiometer: 161.0 cm, by R. Okafor\n"
          "            A sign that a clinician must look at: alert K7Q is open, osier why K7Q\n");
    reads(show_measures, "{'measures': []}",
          "Nothing measured yet. Write one down with: osier measure add --help\n");
}

/* The clinic's clock, here through a change of it, day by day; an id that was named above is not said again, and what was erased is said to be. */
static void why_is_told_day_by_day(void **state)
{
    (void)state;
    reads(
        show_why,
        "{'what': 'alert', 'id': 'K7Q', 'name': 'Ada N.', 'client': 'C0FFEE01',"
        " 'zone': 'Europe/London',"
        " 'reasons': [{'rule': 'pain_now', 'value': 8, 'limit': 7, 'met': true,"
        "              'words': 'pain 8'}],"
        " 'events': ["
        "  {'wall': 1774742400000, 'kind': 'reply.received', 'author': 'client',"
        "   'body': {'client': 'C0FFEE01', 'text': 'pain 8\\nsorry', 'reply': "
        "'0123456789ABCDEF0123456789ABCDEF', 'unread': false}},"
        "  {'wall': 1774828800000, 'kind': 'alert.opened', 'author': 'osier',"
        "   'body': {'class': 'now', 'at': 1774828800000, 'due': 1774832400000, 'within': {'n': 2},"
        "            'codes': ['a', 'b']}},"
        "  {'wall': 1774828860000, 'kind': 'hold.set', 'author': 'osier', 'body': null}]}",
        "alert K7Q, Ada N. (times of Europe/London)\n"
        "  because of pain: 8 of 10, limit 7, \"pain 8\"\n"
        "\n2026-03-29\n"
        "  00:00  reply received, by client\n"
        "         reply 01234567; unread no\n"
        "         text:\n"
        "           | pain 8\n"
        "           | sorry\n"
        "\n2026-03-30\n"
        "  01:00  alert opened, by osier\n"
        "         class now; due 2026-03-30 02:00\n"
        "         n 2\n"
        "         codes a, b\n"
        "  01:01  hold set, by osier\n"
        "         erased\n");
}

static void an_alert_says_whose_it_is_and_who_has_it(void **state)
{
    (void)state;
    reads(show_alerts, "[]", "No open alerts.\n");
    reads(show_alerts,
          "[{'code': 'K7Q', 'class': 'now', 'kind': 'pain', 'at': '2026-03-10T10:19:18Z',"
          "  'client': 'C0FFEE01', 'name': 'Ada N.', 'state': 'taken', 'taken_by': 'R. Okafor',"
          "  'reasons': [{'rule': 'missed_run', 'value': 3, 'limit': 3, 'met': true}],"
          "  'needs': 'hard of hearing', 'note': 'rang twice'},"
          " {'code': 'M2P', 'class': 'today', 'kind': 'missed-run', 'at': '2026-03-10T11:00:00Z',"
          "  'state': 'closed', 'taken_by': 'R. Okafor', 'closed_by': 'J. Lindqvist',"
          "  'outcome': 'end'}]",
          "K7Q   now    pain           Tue 10 Mar 2026, 10:19  Ada N. (C0FFEE01)  taken by R. "
          "Okafor\n"
          "      missed days in a row: 3, limit 3\n"
          "      needs: hard of hearing\n"
          "      note: rang twice\n"
          "M2P   today  missed days in a row Tue 10 Mar 2026, 11:00  the clinic  closed by J. "
          "Lindqvist, "
          "end\n");
}

static void whom_to_ring_and_why_is_said_in_words(void **state)
{
    (void)state;
    reads(show_calls,
          "[{'name': 'Ada N.', 'phone': '+442079460001', 'why': 'missed-run', 'class': 'today'},"
          " {'name': 'Bea R.', 'phone': null, 'why': 'session', 'needs': 'loud',"
          "  'ask': ['Did you?', 'How strong?']},"
          " {'name': 'Cy T.', 'phone': null, 'why': 'session', 'ask': ['Did you?']}]",
          " 1. Ada N.  +442079460001  missed days in a row (today)\n"
          " 2. Bea R.  -  today's session by telephone  needs: loud\n"
          "      ask: Did you?\n"
          "           How strong?\n"
          " 3. Cy T.  -  today's session by telephone\n");
}

static void who_wrote_a_reply_is_named(void **state)
{
    (void)state;
    reads(show_replies,
          "[{'reply': '1E5C917E931C', 'local': '2026-03-13T18:05:22', 'from': '+447700900111',"
          "  'client': 'REQN6K59', 'name': 'Edith Marlow', 'state': 'read', 'text': 'did them',"
          "  'why': null},"
          " {'reply': '47D09A43488A', 'local': '2026-03-13T17:25:00', 'from': '+447700900119',"
          "  'client': null, 'state': 'unread', 'text': 'n', 'why': null, 'candidates': ["
          "   {'client': 'KQYPTKV2', 'name': 'Leonard Hathaway'},"
          "   {'client': 'P8YTZWPR', 'name': 'Doreen Hathaway'}]},"
          " {'reply': '913E4211DC9C', 'local': '2026-03-14T12:14:25', 'from': '+447700900555',"
          "  'client': null, 'state': 'unread', 'text': 'hello', 'why': null, 'candidates': []}]",
          "1E5C917E  Fri 13 Mar 2026, 18:05  from +447700900111  read\n"
          "    Edith Marlow (REQN6K59)\n    \"did them\"\n"
          "47D09A43  Fri 13 Mar 2026, 17:25  from +447700900119  unread\n"
          "    Leonard Hathaway (KQYPTKV2) or Doreen Hathaway (P8YTZWPR)\n    \"n\"\n"
          "913E4211  Sat 14 Mar 2026, 12:14  from +447700900555  unread\n"
          "    nobody's known number or address\n    \"hello\"\n");
}

static void what_to_look_at_fits_eighty_columns(void **state)
{
    (void)state;
    g_autofree char *text = told(
        show_status,
        "{'clinic': 'Clinic', 'local': 'Monday', 'zone': 'Europe/London', 'state': 'look',"
        " 'notes': [{'grave': false, 'do': 'See: osier unread', 'say': '5 replies wait until"
        " somebody reads and settles them; the oldest came on Friday 13 March 2026, 17:25.'}]}");

    assert_non_null(strstr(text, "  - 5 replies wait until somebody reads and settles them; the "
                                 "oldest came on\n    Friday 13 March 2026, 17:25.\n"
                                 "      See: osier unread\n"));
}

static void a_client_without_screen_or_plan_is_told_what_comes_first(void **state)
{
    (void)state;
    g_autofree char *text =
        told(show_client, "{'client': 'C0FFEE01', 'name': 'Ada N.', 'standing': 'new', 'zone': "
                          "'Europe/London', 'screen': null, 'plan': null,"
                          " 'bars': [{'bar': 'stopped', 'since': '2026-03-10T10:19:18Z'}]}");

    assert_true(g_str_has_prefix(text, "Ada N., C0FFEE01: new\n"));
    assert_non_null(strstr(text, "nothing is sent, since:\n  bar            stopped\n"));
    assert_non_null(strstr(text, "none yet: a clinician screens first"));
    assert_non_null(strstr(text, "plan             none yet"));
}

static void who_else_has_the_phone_is_told(void **state)
{
    (void)state;
    g_autofree char *text =
        told(show_client, "{'client': 'P8YTZWPR', 'name': 'Doreen Hathaway', 'standing': 'active', "
                          "'zone': 'Europe/London', 'screen': null, 'plan': null, 'bars': [],"
                          " 'shares': {'letter': 'R', 'with': [{'client': 'KQYPTKV2', 'name': "
                          "'Leonard Hathaway', 'letter': 'L'}, {'client': 'C0FFEE01', 'name': "
                          "'Ada N.', 'letter': null}]}}");

    assert_non_null(strstr(text, "\nshares the phone as letter R, with:\n"
                                 "  Leonard Hathaway (KQYPTKV2), letter L\n"
                                 "  Ada N. (C0FFEE01), letter -\n"));
}

static void a_rule_that_is_more_than_days_of_the_week_is_told_as_it_is(void **state)
{
    static const char *const RULES[] = {"FREQ=DAILY;INTERVAL=2", "FREQ=WEEKLY;BYDAY=MO;COUNT=9",
                                        "FREQ=WEEKLY;BYDAY=1MO", "FREQ=WEEKLY;BYDAY="};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(RULES); i++) {
        g_autofree char *plan = g_strdup_printf("{'at': ['08:30'], 'rule': '%s'}", RULES[i]);
        g_autofree char *line = g_strdup_printf("at 08:30, %s, from", RULES[i]);
        g_autofree char *text = told(show_plan, plan);
        if (strstr(text, line) == NULL) fail_msg("%s", text);
    }
}

static void an_evening_is_told_by_the_clients_own_date(void **state)
{
    (void)state;
    g_autofree char *text =
        told(show_client, "{'client': 'C0FFEE01', 'name': 'Ada N.', 'standing': 'held', 'zone': "
                          "'America/Mexico_City', 'plan': null, 'screen': {'by': 'R. Okafor', "
                          "'at': '2026-03-10T01:00:00Z', 'floor': true, 'clear': true},"
                          " 'bars': [{'kind': 'hold', 'since': '2026-03-10T02:19:18Z'}]}");

    assert_non_null(strstr(text, "by R. Okafor, Mon 9 Mar 2026, 19:00 (America/Mexico_City);"));
    assert_non_null(strstr(text, "since          Mon 9 Mar 2026, 20:19 (America/Mexico_City)\n"));
}

static void the_figures_of_the_status_go_by_the_clock_that_heads_it(void **state)
{
    (void)state;
    g_autofree char *text =
        told(show_status,
             "{'clinic': 'Withy Lane', 'local': 'Monday 9 March 2026, 19:00', 'zone': "
             "'America/Mexico_City', 'state': 'well', 'next_due': '2026-03-10T01:30:00Z', 'polls': "
             "[{'name': 'texts', 'last': '2026-03-10T00:59:00Z'}, {'name': 'mail', 'last': null}], "
             "'backup': {'at': '2026-03-09T09:00:02Z', 'problem': null, 'file': 'a.db', "
             "'next': '2026-03-10T09:00:00Z'}}");

    assert_non_null(strstr(text, "next thing due: Mon 9 Mar 2026, 19:30\n"));
    assert_non_null(strstr(text, "from texts: last at Mon 9 Mar 2026, 18:59\n"));
    assert_non_null(strstr(text, "from mail: last at -\n"));
    assert_non_null(strstr(text, "last copy: Mon 9 Mar 2026, 03:00, a.db\n"));
    assert_non_null(strstr(text, "next copy: Tue 10 Mar 2026, 03:00\n"));
    assert_null(strstr(text, "UTC"));
}

static void a_plan_says_what_was_set_for_this_client(void **state)
{
    (void)state;
    reads(show_plan,
          "{'programme': 'calf-and-hamstring', 'stage': 'strap', 'title': 'With the strap',"
          " 'readiness': 'stay', 'at': ['08:30', '18:30'], 'rule': 'FREQ=WEEKLY;BYDAY=MO,WE,SU',"
          " 'start': '2026-03-02', 'side': 'left', 'next': '2026-03-03T14:30:00Z',"
          " 'zone': 'America/Mexico_City',"
          " 'clinician': 'R. Okafor', 'review': '2026-04-02',"
          " 'goal_deg': {'left': 80, 'right': 90, 'set_for_client': true},"
          " 'movements': [{'title': 'Calf', 'dose': '2 of 30 s', 'dose_set_for_client': true,"
          "                'one_dose_lower': true, 'set_up': 'strap-bed',"
          "                'set_up_set_for_client': true}],"
          " 'week_done': {'done': 0, 'partly': 0}, 'screen_due': true,"
          " 'start_reasons': {'set_up': 'strap-bed', 'reasons': ["
          "   {'rule': 'leg raise below', 'value': 62, 'limit': 90, 'met': true},"
          "   {'rule': 'set-up ruled out by the screen', 'value': 'door-frame',"
          "    'limit': 'no floor', 'met': true}]}}",
          "calf-and-hamstring, stage strap (With the strap), readiness: stay\n"
          "  at 08:30 18:30, on Mon, Wed, Sun, from 2026-03-02, side left, next Tue 3 Mar 2026, "
          "08:30 (America/Mexico_City)\n"
          "  clinician R. Okafor, review 2026-04-02\n"
          "  goal 80 left, 90 right (set for this client)\n"
          "  Calf: 2 of 30 s (set for this client) (one dose lower after time off)\n"
          "    set-up strap-bed (set for this client)\n"
          "  a fresh screen is due\n"
          "why it begins there: set-up strap-bed\n"
          "  leg raise below: 62, limit 90\n"
          "  set-up ruled out by the screen: door-frame (no floor)\n");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_speaks_for_and_against_moving_on_is_marked),
        cmocka_unit_test(what_was_never_due_has_no_rate),
        cmocka_unit_test(a_measure_says_what_it_cannot_decide_and_what_it_called),
        cmocka_unit_test(why_is_told_day_by_day),
        cmocka_unit_test(an_alert_says_whose_it_is_and_who_has_it),
        cmocka_unit_test(whom_to_ring_and_why_is_said_in_words),
        cmocka_unit_test(who_wrote_a_reply_is_named),
        cmocka_unit_test(what_to_look_at_fits_eighty_columns),
        cmocka_unit_test(a_client_without_screen_or_plan_is_told_what_comes_first),
        cmocka_unit_test(who_else_has_the_phone_is_told),
        cmocka_unit_test(a_rule_that_is_more_than_days_of_the_week_is_told_as_it_is),
        cmocka_unit_test(an_evening_is_told_by_the_clients_own_date),
        cmocka_unit_test(the_figures_of_the_status_go_by_the_clock_that_heads_it),
        cmocka_unit_test(a_plan_says_what_was_set_for_this_client),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
