/* SPDX-License-Identifier: Apache-2.0 */
/* What a reading or a run of days amounts to, case by case as the alert table of the manual has it. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "core/watch/matter.h"

static const MatterLimits LIMITS = {
    .pain_now = 7, .pain_today = 4, .intensity_high = 7, .usual_pain = 0};

static Reading said(void)
{
    return (Reading){.intensity = -1};
}

static Reading said_pain(double pain)
{
    Reading reading = said();

    reading.pain_kind = PAIN_NUMBER;
    reading.pain = pain;
    return reading;
}

/* kind NULL: it must amount to nothing. */
static void amounts(const Reading *reading, const MatterLimits *limits, const char *kind,
                    AlertClass class, bool hold)
{
    Matter matter;

    matter_of_reading(reading, limits, &matter);
    assert_int_equal(matter.class, class);
    assert_int_equal(matter.hold, hold);
    if (kind != NULL) {
        assert_string_equal(matter.kind, kind);
        assert_true(json_array_size(matter.reasons) > 0);
    }
    matter_clear(&matter);
}

static void each_sign_has_its_class_and_holds(void **state)
{
    static const struct {
        ReadWarning warning;
        const char *kind;
        AlertClass class;
    } SIGNS[] = {
        {WARNING_CRISIS, "crisis", ALERT_NOW}, {WARNING_HEART, "heart", ALERT_NOW},
        {WARNING_STROKE, "stroke", ALERT_NOW}, {WARNING_CAUDA, "cauda", ALERT_NOW},
        {WARNING_CLOT, "clot", ALERT_TODAY},   {WARNING_FRACTURE, "fracture", ALERT_TODAY},
        {WARNING_NERVE, "nerve", ALERT_TODAY}, {WARNING_FALL, "fall", ALERT_TODAY},
    };

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(SIGNS); i++) {
        Reading reading = said();
        reading.warning = SIGNS[i].warning;
        amounts(&reading, &LIMITS, SIGNS[i].kind, SIGNS[i].class, true);
        /* No report beside it makes it less. */
        reading.done = DONE_YES;
        reading.intensity = 3;
        reading.pain_kind = PAIN_NUMBER;
        reading.pain = 0;
        amounts(&reading, &LIMITS, SIGNS[i].kind, SIGNS[i].class, true);
        /* Pain of 7 beside a sign for today makes it one for now; the sign stays its name. */
        reading.pain = 7;
        amounts(&reading, &LIMITS, SIGNS[i].kind, ALERT_NOW, true);
    }
}

static void pain_is_judged_against_the_usual(void **state)
{
    static const struct {
        double usual, pain;
        AlertClass class;
    } CASES
        [] =
            {
                {-1, 3, ALERT_NONE}, {-1, 4, ALERT_TODAY}, {0, 6.5, ALERT_TODAY},
                {0, 7, ALERT_NOW},   {3, 4, ALERT_NONE},   {3, 4.9, ALERT_NONE},
                {3, 5, ALERT_TODAY}, {4, 5, ALERT_NONE},   {4, 6, ALERT_TODAY},
                {5, 6, ALERT_NONE},  {5, 7, ALERT_NOW}, /* at once, whatever is usual */
                {6, 6, ALERT_NONE},  {0, 10, ALERT_NOW},   {0, 0, ALERT_NONE},
            };

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(CASES); i++) {
        MatterLimits limits = LIMITS;
        limits.usual_pain = CASES[i].usual;
        Reading reading = said_pain(CASES[i].pain);
        amounts(&reading, &limits, CASES[i].class == ALERT_NONE ? NULL : "pain", CASES[i].class,
                CASES[i].class != ALERT_NONE);
    }
}

static void a_strong_stretch_is_for_the_digest_and_holds_nothing(void **state)
{
    Reading reading = said();

    (void)state;
    reading.intensity = 6;
    amounts(&reading, &LIMITS, NULL, ALERT_NONE, false);
    reading.intensity = 7;
    amounts(&reading, &LIMITS, "strong-stretch", ALERT_FOR_DIGEST, false);
    reading.pain_kind = PAIN_NUMBER;
    reading.pain = 1;
    amounts(&reading, &LIMITS, "strong-stretch", ALERT_FOR_DIGEST, false);
}

static void a_bare_high_number_is_pain_until_told_otherwise(void **state)
{
    Reading reading = said();

    (void)state;
    reading.intensity = 8;
    reading.ambiguous_high = true;
    amounts(&reading, &LIMITS, "pain", ALERT_NOW, true);
    /* Where the pain was told, the other number is the stretch. */
    reading.pain_kind = PAIN_NUMBER;
    reading.pain = 0;
    amounts(&reading, &LIMITS, "strong-stretch", ALERT_FOR_DIGEST, false);
}

/* Both alerts are of the kind pain; whoever reads one is told which it was. */
static void a_bare_number_is_not_worded_as_pain(void **state)
{
    Reading bare = said(), told = said_pain(8);
    Matter one, other;
    double number = 0;

    (void)state;
    bare.intensity = 8;
    bare.ambiguous_high = true;
    matter_of_reading(&bare, &LIMITS, &one);
    matter_of_reading(&told, &LIMITS, &other);
    assert_string_equal(matter_named("pain", one.reasons), "pain-unsaid");
    assert_string_equal(matter_named("pain", other.reasons), "pain");
    assert_string_equal(matter_named("clot", one.reasons), "clot");
    assert_string_equal(matter_named("pain", NULL), "pain");
    assert_true(reasons_number(one.reasons, &number));
    assert_float_equal(number, 8, 0);
    json_array_extend(one.reasons, other.reasons); /* the pain itself was told later */
    assert_string_equal(matter_named("pain", one.reasons), "pain");
    matter_clear(&one);
    matter_clear(&other);
}

static void a_plain_report_is_no_matter(void **state)
{
    Reading reading = said_pain(2);

    (void)state;
    reading.done = DONE_YES;
    reading.intensity = 4;
    amounts(&reading, &LIMITS, NULL, ALERT_NONE, false);
    reading = said();
    reading.done = DONE_NO;
    amounts(&reading, &LIMITS, NULL, ALERT_NONE, false);
}

/* Days newest first, one word each; a comma parts the sessions of a day. */
static int run_of(const char *days)
{
    g_auto(GStrv) words = g_strsplit(days, " ", -1);
    DatedState states[64];
    int n = 0;

    for (int day = 0; words[day] != NULL && *words[day] != '\0'; day++) {
        char **sessions = g_strsplit(words[day], ",", -1);
        for (int i = 0; sessions[i] != NULL; i++)
            states[n++] = (DatedState){.date = 20000 - day, .state = g_intern_string(sessions[i])};
        g_strfreev(sessions);
    }
    return missed_run(states, n);
}

static void only_asked_days_count_as_missed(void **state)
{
    (void)state;
    assert_int_equal(run_of(""), 0);
    assert_int_equal(run_of("done"), 0);
    assert_int_equal(run_of("silent"), 1);
    assert_int_equal(run_of("not silent not done"), 3);
    assert_int_equal(run_of("silent partly silent"), 1);
    /* One session done saves its day. */
    assert_int_equal(run_of("silent silent,done silent"), 1);
    assert_int_equal(run_of("silent,not silent,silent done"), 2);
    /* What was never asked, or excused, neither counts nor breaks the run. */
    assert_int_equal(run_of("unasked silent unasked excused not done"), 2);
    assert_int_equal(run_of("unasked unasked unasked"), 0);
    assert_int_equal(run_of("unasked,silent done"), 1);
    assert_int_equal(run_of("asked silent"), 1);
}

static void a_digest_that_reached_nobody_is_named(void **state)
{
    json_t *of_digest = json_pack(
        "[o]", reason_words("undeliverable", "no gateway takes mail", MATTER_DIGEST_WORDS));
    json_t *of_client =
        json_pack("[o]", reason_words("undeliverable", "HTTP 422: no such number", NULL));

    (void)state;
    assert_string_equal(matter_named("undeliverable", of_digest), "digest-lost");
    assert_string_equal(matter_named("undeliverable", of_client), "undeliverable");
    assert_string_equal(matter_named("undeliverable", NULL), "undeliverable");
    json_decref(of_digest);
    json_decref(of_client);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_sign_has_its_class_and_holds),
        cmocka_unit_test(pain_is_judged_against_the_usual),
        cmocka_unit_test(a_strong_stretch_is_for_the_digest_and_holds_nothing),
        cmocka_unit_test(a_bare_high_number_is_pain_until_told_otherwise),
        cmocka_unit_test(a_bare_number_is_not_worded_as_pain),
        cmocka_unit_test(a_digest_that_reached_nobody_is_named),
        cmocka_unit_test(a_plain_report_is_no_matter),
        cmocka_unit_test(only_asked_days_count_as_missed),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
