/* SPDX-License-Identifier: Apache-2.0 */
/* Two clients on one phone: what osier writes says for whom it is, and an answer whose it is; what does not say so goes to a person. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "tests/support/json_look.h"
#include "tests/support/solo.h"

#define PAIR "+442079460005"

typedef struct {
    Solo desk;
    char *leonard;
    char *doreen;
} Couple;

/* Becomes a client with that phone: the id. The plan began a week ago, so that the check-in is due today. */
static char *join(Solo *desk, const char *name, const char *language, const char *at)
{
    json_t *added =
        site_ask(desk->site,
                 "client add --name '%s' --zone Europe/London --language %s --channel "
                 "sms --phone " PAIR " --consent 'sms: signed form, R. Okafor, 2026-03-01'",
                 name, language);
    char *id = look_copy(added, "client");

    json_decref(added);
    json_decref(site_ask(desk->site, "screen %s --by 'R. Okafor' --floor yes --clear", id));
    json_decref(site_ask(desk->site,
                         "plan set %s --programme calf-and-hamstring --at %s --stage "
                         "lower-hamstring --start 2026-02-23",
                         id, at));
    return id;
}

static Couple couple_open(const char *first, const char *second, const char *language)
{
    Couple couple = {.desk = solo_open(SPEAKS_JSON, "08:30")};

    couple.leonard = join(&couple.desk, first, language, "08:30");
    couple.doreen = join(&couple.desk, second, language, "08:30");
    solo_to(&couple.desk, "2026-03-02T08:31:00Z");
    return couple;
}

static void couple_close(Couple *couple)
{
    g_free(couple->leonard);
    g_free(couple->doreen);
    solo_close(&couple->desk);
}

static int heard(Couple *couple, const char *words)
{
    return stand_in_sent(couple->desk.gateway, PAIR, words, NULL);
}

/* Somebody texts from the shared phone, and the clock is moved. */
static void say(Couple *couple, const char *text, const char *then)
{
    stand_in_put(couple->desk.gateway, PAIR, text, NULL);
    solo_to(&couple->desk, then);
}

/* The one reply of that text. */
static json_t *reply(Couple *couple, const char *text)
{
    json_t *list = site_ask(couple->desk.site, "replies");
    json_t *only = json_incref(look_only(list, "text", text));

    json_decref(list);
    assert_non_null(only);
    return only;
}

/* It was taken as that client's, and its words are kept whole. */
static void is_of(Couple *couple, const char *text, const char *client)
{
    json_t *said = reply(couple, text);

    look_is(said, "client", client);
    assert_string_not_equal(json_string_value(json_object_get(said, "state")), "unread");
    json_decref(said);
}

static void goes_to_a_person(Couple *couple, const char *text)
{
    json_t *said = reply(couple, text);

    assert_true(json_is_null(json_object_get(said, "client")));
    look_is(said, "state", "unread");
    json_decref(said);
}

static void session_is(Couple *couple, const char *client, const char *date, const char *state)
{
    json_t *list = site_ask(couple->desk.site, "sessions %s --from %s --days 1", client, date);

    look_is(json_array_get(list, 0), "state", state);
    json_decref(list);
}

static json_t *shown(Couple *couple, const char *client)
{
    return site_ask(couple->desk.site, "client show %s", client);
}

static void letter_is(Couple *couple, const char *client, const char *letter)
{
    json_t *document = shown(couple, client);

    look_is(json_object_get(document, "shares"), "letter", letter);
    json_decref(document);
}

static bool is_held(Couple *couple, const char *client)
{
    json_t *document = shown(couple, client);
    bool held = g_strcmp0(json_string_value(json_object_get(document, "standing")), "held") == 0;

    json_decref(document);
    return held;
}

/* --- */

static void each_is_asked_and_answers_by_letter(void **state)
{
    Couple couple = couple_open("Leonard Hathaway", "Doreen Hathaway", "en");

    (void)state;
    assert_int_equal(heard(&couple, "L: "), 1);
    assert_int_equal(heard(&couple, "R: "), 1);
    assert_int_equal(heard(&couple, "reply R D (done) or R N (not)"), 1);
    assert_int_equal(heard(&couple, "like L D 4 P0"), 1);
    assert_int_equal(solo_heard(&couple.desk, "reply D (done)"), 1); /* Ada has her phone alone */
    say(&couple, "R D 4 0", "2026-03-02T08:40:00Z");
    is_of(&couple, "R D 4 0", couple.doreen);
    session_is(&couple, couple.doreen, "2026-03-02", "done");
    session_is(&couple, couple.leonard, "2026-03-02", "asked");
    say(&couple, "l: n", "2026-03-02T08:45:00Z");
    is_of(&couple, "l: n", couple.leonard);
    session_is(&couple, couple.leonard, "2026-03-02", "not");
    say(&couple, "D 4 0", "2026-03-02T08:50:00Z");
    goes_to_a_person(&couple, "D 4 0");
    say(&couple, "L D 4 0, R N", "2026-03-02T08:55:00Z");
    goes_to_a_person(&couple, "L D 4 0, R N");
    couple_close(&couple);
}

static void pain_of_one_is_no_matter_of_the_other(void **state)
{
    Couple couple = couple_open("Leonard Hathaway", "Doreen Hathaway", "en");

    (void)state;
    say(&couple, "R D 4 P8", "2026-03-02T08:40:00Z");
    assert_int_equal(solo_alerts(&couple.desk, "pain", "now"), 1);
    assert_true(is_held(&couple, couple.doreen));
    assert_false(is_held(&couple, couple.leonard));
    /* what to do about it concerns whoever reads it */
    assert_int_equal(heard(&couple, "R: Stop"), 0);
    assert_int_equal(heard(&couple, "Stop stretching"), 1);
    couple_close(&couple);
}

/* A high number is asked about with the letter, and the answer finds what was asked. */
static void a_question_is_answered_with_the_letter(void **state)
{
    Couple couple = couple_open("Leonard Hathaway", "Doreen Hathaway", "en");

    (void)state;
    say(&couple, "L done, 4, but sore", "2026-03-02T08:40:00Z");
    assert_int_equal(heard(&couple, "L: "), 2);
    assert_int_equal(heard(&couple, "L P 3"), 1);
    say(&couple, "L 5", "2026-03-02T08:45:00Z");
    is_of(&couple, "L 5", couple.leonard);
    assert_int_equal(solo_alerts(&couple.desk, "pain", "today"), 1);
    assert_false(is_held(&couple, couple.doreen));
    couple_close(&couple);
}

/* Of a bare high number the safety text asks, and how to answer it depends on whether it is known whose it is. */
static void a_bare_high_number_is_asked_about(void **state)
{
    Couple couple = couple_open("Leonard Hathaway", "Doreen Hathaway", "en");

    (void)state;
    say(&couple, "R 8", "2026-03-02T08:40:00Z");
    assert_int_equal(heard(&couple, "You wrote 8"), 1);
    assert_int_equal(heard(&couple, "R: You wrote 8"), 0);
    assert_int_equal(heard(&couple, "R STRETCH 8"), 1);
    say(&couple, "R STRETCH 8", "2026-03-02T08:45:00Z");
    is_of(&couple, "R STRETCH 8", couple.doreen);
    assert_false(is_held(&couple, couple.leonard));
    say(&couple, "9", "2026-03-02T08:50:00Z");
    goes_to_a_person(&couple, "9");
    assert_int_equal(heard(&couple, "reply STRETCH 9"), 1);
    assert_true(is_held(&couple, couple.leonard));
    couple_close(&couple);
}

static void a_letter_alone_makes_no_answer(void **state)
{
    static const char *const SAID[] = {"L is poorly", "R", "M D 4 0", "Leonard D 4 0"};
    Couple couple = couple_open("Leonard Hathaway", "Doreen Hathaway", "en");

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(SAID); i++) {
        g_autofree char *then = g_strdup_printf("2026-03-02T08:%02d:00Z", 35 + 5 * (int)i);
        say(&couple, SAID[i], then);
        goes_to_a_person(&couple, SAID[i]);
    }
    say(&couple, "L fell", "2026-03-02T08:57:00Z"); /* a sign is acted on for both */
    assert_int_equal(solo_alerts(&couple.desk, "fall", "today"), 2);
    couple_close(&couple);
}

/* "My husband" is a client as well, and who is named is not whose letter it is: both are called about, and held. */
static void a_sign_told_of_the_other_is_acted_on_for_both(void **state)
{
    static const char *const SAID[] = {"R D 4 P0. My husband has chest pain",
                                       "R D 4 P0. Leonard has chest pain"};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(SAID); i++) {
        Couple couple = couple_open("Leonard Hathaway", "Doreen Hathaway", "en");
        int before = heard(&couple, "999");
        say(&couple, SAID[i], "2026-03-02T08:40:00Z");
        goes_to_a_person(&couple, SAID[i]);
        assert_int_equal(solo_alerts(&couple.desk, "heart", "now"), 2);
        assert_true(is_held(&couple, couple.leonard));
        assert_true(heard(&couple, "999") > before);
        couple_close(&couple);
    }
}

static void a_stop_stops_for_all(void **state)
{
    Couple couple = couple_open("Leonard Hathaway", "Doreen Hathaway", "en");

    (void)state;
    say(&couple, "R STOP", "2026-03-02T08:40:00Z");
    json_t *leonard = shown(&couple, couple.leonard), *doreen = shown(&couple, couple.doreen);
    look_is(leonard, "standing", "stopped");
    look_is(doreen, "standing", "stopped");
    json_decref(leonard);
    json_decref(doreen);
    couple_close(&couple);
}

static void the_check_in_is_answered_by_letter(void **state)
{
    Couple couple = couple_open("Leonard Hathaway", "Doreen Hathaway", "en");

    (void)state;
    solo_to(&couple.desk, "2026-03-02T11:01:00Z");
    assert_int_equal(heard(&couple, "like R LETTER B"), 1);
    assert_int_equal(heard(&couple, "like L LETTER B"), 1);
    say(&couple, "R B", "2026-03-02T11:10:00Z");
    is_of(&couple, "R B", couple.doreen);
    say(&couple, "L letter C", "2026-03-02T11:15:00Z");
    is_of(&couple, "L letter C", couple.leonard);
    json_t *read = reply(&couple, "R B");
    look_is(json_object_get(read, "reading"), "letter", "B");
    json_decref(read);
    session_is(&couple, couple.doreen, "2026-03-02", "asked");
    couple_close(&couple);
}

/* A daughter comes to the same phone, and the husband ends. */
static void letters_stay_whoever_comes_and_goes(void **state)
{
    Couple couple = couple_open("Leonard Hathaway", "Doreen Hathaway", "en");

    (void)state;
    g_autofree char *lily = join(&couple.desk, "Lily Hathaway", "en", "08:30");
    letter_is(&couple, couple.leonard, "L");
    letter_is(&couple, couple.doreen, "R");
    letter_is(&couple, lily, "H");
    json_decref(site_ask(couple.desk.site, "client end %s --why finished", couple.leonard));
    letter_is(&couple, couple.doreen, "R");
    letter_is(&couple, lily, "H");
    json_decref(site_ask(couple.desk.site, "client end %s --why finished", lily));
    json_t *alone = shown(&couple, couple.doreen);
    assert_null(json_object_get(alone, "shares"));
    json_decref(alone);
    solo_to(&couple.desk, "2026-03-03T08:31:00Z");
    assert_int_equal(heard(&couple, "reply D (done)"), 1);
    say(&couple, "D 4 0", "2026-03-03T08:40:00Z");
    is_of(&couple, "D 4 0", couple.doreen);
    say(&couple, "R D 5 0", "2026-03-03T08:45:00Z"); /* out of habit */
    is_of(&couple, "R D 5 0", couple.doreen);
    say(&couple, "L D 3 0", "2026-03-03T08:50:00Z");
    goes_to_a_person(&couple, "L D 3 0");
    couple_close(&couple);
}

static void it_is_told_whose_phone_it_is(void **state)
{
    Couple couple = couple_open("Leonard Hathaway", "Doreen Hathaway", "en");

    (void)state;
    g_autofree char *told = site_told(couple.desk.site, "client show %s", couple.doreen);
    assert_non_null(strstr(told, "shares the phone as letter R, with:\n  Leonard Hathaway ("));
    assert_non_null(strstr(told, "letter L\n"));
    couple_close(&couple);
}

static void in_spanish(void **state)
{
    Couple couple = couple_open("Mateo Olmedo", "Julia Olmedo", "es");

    (void)state;
    assert_int_equal(heard(&couple, "M: "), 1);
    assert_int_equal(heard(&couple, "Ejemplo: J SI 4 0"), 1);
    say(&couple, "J S\303\255 4 0", "2026-03-02T08:40:00Z");
    is_of(&couple, "J S\303\255 4 0", couple.doreen);
    session_is(&couple, couple.doreen, "2026-03-02", "done");
    say(&couple, "M NO", "2026-03-02T08:45:00Z");
    is_of(&couple, "M NO", couple.leonard);
    say(&couple, "SI 4 0", "2026-03-02T08:50:00Z");
    goes_to_a_person(&couple, "SI 4 0");
    couple_close(&couple);
}

static void in_french(void **state)
{
    Couple couple = couple_open("H\303\251l\303\250ne Baudry", "Victor Baudry", "fr");

    (void)state;
    assert_int_equal(heard(&couple, "H: "), 1);
    assert_int_equal(heard(&couple, "V OUI 4 0"), 1);
    say(&couple, "H OUI 4 0", "2026-03-02T08:40:00Z");
    is_of(&couple, "H OUI 4 0", couple.leonard);
    session_is(&couple, couple.leonard, "2026-03-02", "done");
    say(&couple, "V : non", "2026-03-02T08:45:00Z");
    is_of(&couple, "V : non", couple.doreen);
    say(&couple, "non", "2026-03-02T08:50:00Z");
    goes_to_a_person(&couple, "non");
    couple_close(&couple);
}

/* After the reminders somebody puts Leonard's name right, and R, which Doreen was told, would be his. */
static void a_letter_given_to_the_other_counts_once_it_was_told(void **state)
{
    Couple couple = couple_open("Leonard Hathaway", "Doreen Hathaway", "en");

    (void)state;
    assert_int_equal(heard(&couple, "R: "), 1);
    json_decref(
        site_ask(couple.desk.site, "client set %s --name 'Robert Hathaway'", couple.leonard));
    say(&couple, "R D 4 0", "2026-03-02T08:50:00Z");
    goes_to_a_person(&couple, "R D 4 0");
    solo_to(&couple.desk, "2026-03-03T08:31:00Z");
    say(&couple, "R D 5 0", "2026-03-03T08:50:00Z");
    is_of(&couple, "R D 5 0", couple.leonard);
    couple_close(&couple);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_letter_given_to_the_other_counts_once_it_was_told),
        cmocka_unit_test(each_is_asked_and_answers_by_letter),
        cmocka_unit_test(pain_of_one_is_no_matter_of_the_other),
        cmocka_unit_test(a_question_is_answered_with_the_letter),
        cmocka_unit_test(a_bare_high_number_is_asked_about),
        cmocka_unit_test(a_letter_alone_makes_no_answer),
        cmocka_unit_test(a_sign_told_of_the_other_is_acted_on_for_both),
        cmocka_unit_test(a_stop_stops_for_all),
        cmocka_unit_test(the_check_in_is_answered_by_letter),
        cmocka_unit_test(letters_stay_whoever_comes_and_goes),
        cmocka_unit_test(it_is_told_whose_phone_it_is),
        cmocka_unit_test(in_spanish),
        cmocka_unit_test(in_french),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
