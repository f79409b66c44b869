/* SPDX-License-Identifier: Apache-2.0 */
/* What osier asks back, at most once for a session, and what the answers do. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "tests/support/json_look.h"
#include "tests/support/solo.h"

/* Ada has been asked at half past eight. */
static int open_asked(void **state)
{
    Solo *clinic = g_new(Solo, 1);

    *clinic = solo_open(SPEAKS_FORM, "08:30");
    solo_to(clinic, "2026-03-02T08:40:00Z");
    *state = clinic;
    return 0;
}

static int close_all(void **state)
{
    solo_close(*state);
    g_free(*state);
    return 0;
}

/* The body of the last report of that day's one session; count: how many there were. */
static json_t *last_report(Solo *clinic, int count)
{
    json_t *list = site_ask(clinic->site, "sessions %s --from 2026-03-02 --days 1", clinic->ada);
    g_autofree char *id = look_copy(json_array_get(list, 0), "session");
    json_t *why = site_ask(clinic->site, "why %s", id), *event, *last = NULL;
    size_t i;

    assert_int_equal(json_array_size(list), 1);
    json_array_foreach(json_object_get(why, "events"), i, event)
    {
        if (strcmp(json_string_value(json_object_get(event, "kind")), "report.made") != 0) continue;
        last = json_object_get(event, "body");
        count--;
    }
    assert_int_equal(count, 0);
    json_incref(last);
    json_decref(list);
    json_decref(why);
    return last;
}

static json_t *alert(Solo *clinic, const char *kind)
{
    json_t *list = site_ask(clinic->site, "alerts --all");
    json_t *only = json_incref(look_only(list, "kind", kind));

    json_decref(list);
    return only;
}

static void what_cannot_be_read_is_asked_back_once(void **state)
{
    Solo *clinic = *state;

    solo_says(clinic, "the green one by the window", "2026-03-02T08:50:00Z");
    assert_int_equal(solo_heard(clinic, "we could not read that"), 1);
    solo_says(clinic, "purple monkey dishwasher", "2026-03-02T09:00:00Z");
    assert_int_equal(solo_heard(clinic, "we could not read that"), 1);
    solo_says(clinic, "it hurts a bit", "2026-03-02T09:10:00Z");
    assert_int_equal(solo_heard(clinic, "How bad is it"), 0); /* the one question was asked */
    json_t *unread = site_ask(clinic->site, "unread");
    assert_int_equal(json_array_size(unread), 2); /* and a person sees both */
    json_decref(unread);
}

static void a_request_is_no_report_to_be_asked_back(void **state)
{
    Solo *clinic = *state;

    solo_says(clinic, "please could you ring me about Thursday", "2026-03-02T08:50:00Z");
    assert_int_equal(solo_heard(clinic, "we could not read that"), 0);
}

/* Three days of answers that a person must read, and a fourth of silence: no nudge on the three, and no run of misses. */
static void who_has_answered_is_not_asked_again(void **state)
{
    Solo *clinic = *state;

    solo_says(clinic, "please could you ring me about Thursday", "2026-03-02T08:50:00Z");
    solo_to(clinic, "2026-03-03T08:40:00Z");
    solo_says(clinic, "is the garden door alright for it", "2026-03-03T08:50:00Z");
    solo_to(clinic, "2026-03-04T08:40:00Z");
    solo_says(clinic, "could somebody ring me", "2026-03-04T08:50:00Z");
    solo_to(clinic, "2026-03-05T08:00:00Z");
    assert_int_equal(solo_heard(clinic, "how did the stretches go today"), 0);
    json_t *list = site_ask(clinic->site, "alerts --all");
    assert_int_equal(look_count(list, "kind", "missed-run"), 0);
    assert_true(look_count(list, "kind", "unread") > 0); /* but a person is called to them */
    json_decref(list);
    solo_to(clinic, "2026-03-05T13:00:00Z");
    assert_int_equal(solo_heard(clinic, "how did the stretches go today"),
                     1); /* nothing was said that day */
}

static void more_pain_than_stretch_by_order_is_confirmed(void **state)
{
    Solo *clinic = *state;

    solo_says(clinic, "1 2", "2026-03-02T08:50:00Z");
    assert_int_equal(solo_heard(clinic, "we read stretch 1 and pain 2"), 1);
    solo_says(clinic, "sorry, 2 1", "2026-03-02T09:00:00Z");
    json_t *last = last_report(clinic, 2);
    look_json(last, "{\"done\":\"yes\",\"intensity\":2,\"pain\":1}");
    json_decref(last);
}

static void a_correction_supersedes_and_both_stay(void **state)
{
    Solo *clinic = *state;

    solo_says(clinic, "Done 5, no pain", "2026-03-02T08:50:00Z");
    solo_says(clinic, "sorry, 3", "2026-03-02T09:00:00Z");
    json_t *last = last_report(clinic, 2);
    look_json(last, "{\"done\":\"yes\",\"intensity\":3}");
    json_decref(last);
}

/* A bare 8 counts as pain; the client's word that it was the stretch lifts nothing by itself. */
static void stretch_by_itself_is_told_at_the_alert(void **state)
{
    Solo *clinic = *state;

    solo_says(clinic, "8", "2026-03-02T08:50:00Z");
    assert_int_equal(solo_heard(clinic, "STRETCH 8 or PAIN"), 0); /* no question under a hold */
    assert_int_equal(solo_heard(clinic, "If it is pain, stop, ring"), 1); /* the safety text asks */
    assert_int_equal(solo_heard(clinic, "reply STRETCH 8"), 1);
    solo_says(clinic, "stretch", "2026-03-02T09:00:00Z");
    json_t *last = last_report(clinic, 2);
    look_json(last, "{\"done\":\"yes\",\"intensity\":8,\"pain\":null}");
    json_decref(last);
    json_t *pain = alert(clinic, "pain");
    look_is(pain, "state", "open");
    g_autofree char *text = json_dumps(pain, JSON_COMPACT);
    if (strstr(text, "the client says stretch") == NULL) fail_msg("%s", text);
    json_decref(pain);
    assert_true(site_clock(clinic->site, "2026-03-03T09:00:00Z"));
    assert_int_equal(solo_heard(clinic, "time for your stretches"), 1); /* the hold stands */
}

static void pain_by_itself_gives_the_number_its_place(void **state)
{
    Solo *clinic = *state;

    solo_says(clinic, "8", "2026-03-02T08:50:00Z");
    solo_says(clinic, "PAIN", "2026-03-02T09:00:00Z");
    assert_int_equal(solo_heard(clinic, "ring us now about this pain"),
                     1); /* pain for certain now */
    json_t *last = last_report(clinic, 2);
    look_json(last, "{\"done\":\"yes\",\"intensity\":null,\"pain\":8}");
    json_decref(last);
}

/* What the page shows of that day's session, in the client's course and among the day's, and what the course says in words. */
static void shows(Solo *clinic, const char *figures, const char *words, const char *not_words)
{
    g_autofree char *path = g_strdup_printf("/clients/%s/course", clinic->ada);
    long status = 0;
    json_t *course = site_call(clinic->site, "GET", path, NULL, &status);
    json_t *today = site_call(clinic->site, "GET", "/today", NULL, &status);
    const char *said = json_string_value(json_object_get(course, "words"));

    look_json(json_array_get(json_object_get(course, "sessions"), 0), figures);
    look_json(json_array_get(json_object_get(today, "sessions"), 0), figures);
    if (strstr(said, words) == NULL || strstr(said, not_words) != NULL) fail_msg("%s", said);
    json_decref(course);
    json_decref(today);
}

static void a_later_word_without_numbers_takes_none_away(void **state)
{
    Solo *clinic = *state;

    solo_says(clinic, "Done 5, no pain", "2026-03-02T08:50:00Z");
    solo_says(clinic, "did them all", "2026-03-02T09:00:00Z");
    json_decref(last_report(clinic, 2));
    shows(clinic, "{\"intensity\":5,\"pain\":\"0\",\"bare\":false}", "stretch 5; no pain", "up to");
    solo_says(clinic, "sorry, 3", "2026-03-02T09:10:00Z");
    shows(clinic, "{\"intensity\":3,\"pain\":\"0\"}", "stretch 3; no pain", "up to");
}

/* Beside an alert about an 8 that may be pain nothing says 'no pain'. */
static void no_pain_is_not_said_while_a_number_is_open(void **state)
{
    Solo *clinic = *state;

    solo_says(clinic, "Done 5, no pain", "2026-03-02T08:50:00Z");
    solo_says(clinic, "8", "2026-03-02T09:00:00Z");
    shows(clinic, "{\"intensity\":8,\"bare\":true}", "8 of 10, stretch or pain", "no pain");
    json_t *week = site_ask(clinic->site, "week --of 2026-03-02 --format json");
    json_t *entry = look_only(json_object_get(week, "clients"), "client", clinic->ada);
    look_json(entry, "{\"pain_bare\":8.0,\"pain_some\":false}");
    look_is(json_array_get(json_object_get(entry, "alerts"), 0), "named", "pain-unsaid");
    json_decref(week);
    g_autofree char *text = site_told(clinic->site, "week --of 2026-03-02 --format text");
    assert_null(strstr(text, "no pain"));
    assert_non_null(strstr(text, "8 of 10, stretch or pain"));
    solo_says(clinic, "stretch", "2026-03-02T09:10:00Z");
    shows(clinic, "{\"intensity\":8,\"bare\":false}", "no pain", "stretch or pain");
}

static void a_number_that_was_the_pain_is_no_stretch(void **state)
{
    Solo *clinic = *state;

    solo_says(clinic, "8", "2026-03-02T08:50:00Z");
    solo_says(clinic, "PAIN", "2026-03-02T09:00:00Z");
    shows(clinic, "{\"intensity\":null,\"pain\":\"8\",\"bare\":false}", "pain up to 8", "stretch");
    solo_says(clinic, "it still hurts", "2026-03-02T09:10:00Z");
    shows(clinic, "{\"pain\":\"some\"}", "pain, no number given", "no pain");
}

/* What the digest has of Ada's week. */
static json_t *her_week(Solo *clinic)
{
    json_t *week = site_ask(clinic->site, "week --of 2026-03-02 --format json");
    json_t *entry = json_incref(look_only(json_object_get(week, "clients"), "client", clinic->ada));

    json_decref(week);
    return entry;
}

static void weighs(Solo *clinic, const char *figures)
{
    json_t *entry = her_week(clinic);

    look_json(entry, figures);
    json_decref(entry);
}

/* "sorry, 3" may be the stretch beside a pain of 8: nobody said that it did not hurt. */
static void another_number_closes_none_that_may_be_pain(void **state)
{
    Solo *clinic = *state;

    solo_says(clinic, "Done 5, no pain", "2026-03-02T08:50:00Z");
    solo_says(clinic, "8", "2026-03-02T09:00:00Z");
    weighs(clinic, "{\"intensity\":5.0,\"pain_bare\":8.0}"); /* and not as the stretch too */
    solo_says(clinic, "sorry, 3", "2026-03-02T09:10:00Z");
    shows(clinic, "{\"intensity\":8,\"bare\":true}", "8 of 10, stretch or pain", "no pain");
    weighs(clinic, "{\"intensity\":3.0,\"pain_bare\":8.0}");
    solo_says(clinic, "pain 2", "2026-03-02T09:20:00Z");
    shows(clinic, "{\"pain\":\"2\",\"bare\":false}", "pain up to 2", "stretch or pain");
}

static void pain_without_a_number_closes_none_either(void **state)
{
    Solo *clinic = *state;

    solo_says(clinic, "8", "2026-03-02T08:50:00Z");
    solo_says(clinic, "did them all", "2026-03-02T08:55:00Z");
    solo_says(clinic, "it hurts a bit", "2026-03-02T09:00:00Z");
    shows(clinic, "{\"pain\":\"some\",\"bare\":true}", "8 of 10, stretch or pain", "no pain");
}

/* The stretch that was told before comes back, and the digest counts it once. */
static void a_number_that_was_the_pain_gives_the_stretch_back(void **state)
{
    Solo *clinic = *state;

    solo_says(clinic, "4", "2026-03-02T08:50:00Z");
    solo_says(clinic, "8", "2026-03-02T09:00:00Z");
    solo_says(clinic, "pain 8", "2026-03-02T09:10:00Z");
    shows(clinic, "{\"intensity\":4,\"pain\":\"8\",\"bare\":false}", "stretch 4",
          "stretch or pain");
    weighs(clinic, "{\"intensity\":4.0,\"pain\":8.0}");
}

/* "Yesterday's": the person who settles it says of which day it tells, and a session to come is refused. */
static void a_person_says_which_session_was_told_of(void **state)
{
    Solo *clinic = *state;

    solo_to(clinic, "2026-03-03T08:40:00Z");
    solo_says(clinic, "is it fine that I did yesterdays late", "2026-03-03T08:50:00Z");
    json_t *unread = site_ask(clinic->site, "unread");
    g_autofree char *reply = look_copy(look_only(unread, "state", "unread"), "reply");
    json_decref(unread);
    site_fails(clinic->site, 65, "still to come",
               "unread settle %s --done yes --date 2026-03-04 --by 'R. Okafor'", reply);
    json_decref(site_ask(clinic->site,
                         "unread settle %s --done yes --date 2026-03-02 --by 'R. Okafor'", reply));
    json_t *list = site_ask(clinic->site, "sessions %s --from 2026-03-02 --days 2", clinic->ada);
    look_is(json_array_get(list, 0), "state", "done");
    look_is(json_array_get(list, 1), "state", "asked");
    json_decref(list);
}

/* A person who settles the reply that said the number says which it was. */
static void a_person_settles_what_the_number_was(void **state)
{
    Solo *clinic = *state;

    solo_says(clinic, "4", "2026-03-02T08:50:00Z");
    solo_says(clinic, "8", "2026-03-02T09:00:00Z");
    json_t *last = last_report(clinic, 2);
    g_autofree char *reply = look_copy(last, "reply");
    json_decref(last);
    json_decref(
        site_ask(clinic->site, "unread settle %s --done yes --pain 8 --by 'R. Okafor'", reply));
    shows(clinic, "{\"intensity\":4,\"pain\":\"8\",\"bare\":false}", "stretch 4",
          "stretch or pain");
}

/* How many the digest says that osier missed, of those settled. */
static int missed(Solo *clinic)
{
    json_t *week = site_ask(clinic->site, "week --of 2026-03-02 --format json");
    json_t *n = json_object_get(week, "missed");

    if (!json_is_integer(n)) fail_msg("%s", json_dumps(week, JSON_COMPACT));
    int count = (int)json_integer_value(n);
    json_decref(week);
    return count;
}

static void what_osier_missed_is_counted_in_the_digest(void **state)
{
    Solo *clinic = *state;

    solo_says(clinic, "D 4 0 the plumber wore yellow wellies", "2026-03-02T08:50:00Z");
    json_t *list = site_ask(clinic->site, "glance");
    g_autofree char *reply = look_copy(json_array_get(list, 0), "reply");
    json_decref(list);
    assert_int_equal(missed(clinic), 0);
    site_fails(clinic->site, 65, "must be one of",
               "glance seen %s --missed shoes --by 'J. Lindqvist'", reply);
    json_decref(site_ask(clinic->site, "glance seen %s --missed other --by 'J. Lindqvist'", reply));
    assert_int_equal(missed(clinic), 1);
    shows(clinic, "{\"intensity\":4,\"pain\":\"0\"}", "stretch 4", "up to"); /* the report stands */
    list = site_ask(clinic->site, "glance");
    assert_int_equal(json_array_size(list), 0);
    json_decref(list);
}

static void who_will_be_away_is_left_to_a_person_with_the_command(void **state)
{
    Solo *clinic = *state;

    solo_says(clinic, "I am on holiday until the 14th", "2026-03-02T08:50:00Z");
    g_autofree char *wanted =
        g_strdup_printf("osier client pause %s --until DATE --why away", clinic->ada);
    json_t *list = site_ask(clinic->site, "unread");
    look_is(json_array_get(list, 0), "suggests", wanted);
    json_decref(list);
}

/* Ada ended the texts, and rings later: she would like them back. */
static void who_asks_somebody_for_the_texts_gets_them_again(void **state)
{
    Solo *clinic = *state;

    site_fails(clinic->site, 65, "has not ended the texts",
               "client resume %s --asked 'rang' --by 'J. Lindqvist'", clinic->ada);
    solo_says(clinic, "STOP", "2026-03-02T08:50:00Z");
    solo_to(clinic, "2026-03-03T08:40:00Z");
    int before = solo_heard(clinic, "time for your stretches");
    site_fails(clinic->site, 65, "--asked", "client resume %s --by 'J. Lindqvist'", clinic->ada);
    json_decref(site_ask(clinic->site,
                         "client resume %s --asked 'rang, 2026-03-03' --by 'J. Lindqvist'",
                         clinic->ada));
    solo_to(clinic, "2026-03-04T08:40:00Z");
    assert_int_equal(solo_heard(clinic, "time for your stretches"), before + 1);
}

#define SCENARIO(name) cmocka_unit_test_setup_teardown(name, open_asked, close_all)

int main(void)
{
    const struct CMUnitTest tests[] = {
        SCENARIO(what_cannot_be_read_is_asked_back_once),
        SCENARIO(a_request_is_no_report_to_be_asked_back),
        SCENARIO(who_has_answered_is_not_asked_again),
        SCENARIO(more_pain_than_stretch_by_order_is_confirmed),
        SCENARIO(a_correction_supersedes_and_both_stay),
        SCENARIO(a_later_word_without_numbers_takes_none_away),
        SCENARIO(no_pain_is_not_said_while_a_number_is_open),
        SCENARIO(a_number_that_was_the_pain_is_no_stretch),
        SCENARIO(another_number_closes_none_that_may_be_pain),
        SCENARIO(pain_without_a_number_closes_none_either),
        SCENARIO(a_number_that_was_the_pain_gives_the_stretch_back),
        SCENARIO(a_person_says_which_session_was_told_of),
        SCENARIO(a_person_settles_what_the_number_was),
        SCENARIO(stretch_by_itself_is_told_at_the_alert),
        SCENARIO(what_osier_missed_is_counted_in_the_digest),
        SCENARIO(who_will_be_away_is_left_to_a_person_with_the_command),
        SCENARIO(who_asks_somebody_for_the_texts_gets_them_again),
        SCENARIO(pain_by_itself_gives_the_number_its_place),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
