/* SPDX-License-Identifier: Apache-2.0 */
/* The last gate over every combination of what it knows, held to what docs/safety.md and the manual promise: said here anew,
 * message by message, not taken from the code. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "core/clinic/gate.h"

#define NOON_MS INT64_C(1772452800000)
#define HOUR INT64_C(3600000)

enum { KINDS = MESSAGE_GOODBYE + 1 };

/* An open way: consent, no bar, daytime, nothing sent yet. */
static GateCase open_way(MessageKind kind)
{
    return (GateCase){.kind = kind, .now_ms = NOON_MS, .consent = true, .per_day_max = 4};
}

static bool answers_at_any_hour(MessageKind kind)
{
    return kind == MESSAGE_STOPPED || kind == MESSAGE_HELP || kind == MESSAGE_SAFETY;
}

static bool asks_about_sessions(MessageKind kind)
{
    return kind == MESSAGE_REMINDER || kind == MESSAGE_NUDGE || kind == MESSAGE_CHECKIN ||
           kind == MESSAGE_QUESTION;
}

static void is_never(const GateCase *gate, const char *rule)
{
    GateVerdict verdict = gate_judge(gate);

    if (verdict.answer != GATE_NEVER)
        fail_msg("a %s goes although: %s", message_kind_name(gate->kind), rule);
    assert_non_null(verdict.rule);
}

static void goes(const GateCase *gate)
{
    GateVerdict verdict = gate_judge(gate);

    if (verdict.answer != GATE_GO)
        fail_msg("a %s does not go: %s", message_kind_name(gate->kind), verdict.rule);
    assert_null(verdict.rule);
}

static void an_open_way_lets_every_kind_go(void **state)
{
    (void)state;
    for (int kind = 0; kind < KINDS; kind++) {
        GateCase gate = open_way((MessageKind)kind);
        goes(&gate);
    }
}

static void past_its_end_nothing_goes_not_even_to_staff(void **state)
{
    (void)state;
    for (int kind = 0; kind < KINDS; kind++)
        for (int staff = 0; staff < 2; staff++) {
            GateCase gate = open_way((MessageKind)kind);
            gate.to_staff = staff;
            gate.end_ms = NOON_MS;
            is_never(&gate, "its end is now");
            gate.end_ms = NOON_MS + 1;
            goes(&gate);
        }
}

static void who_stopped_hears_only_what_answers(void **state)
{
    (void)state;
    for (int kind = 0; kind < KINDS; kind++) {
        GateCase gate = open_way((MessageKind)kind);
        gate.stopped = true;
        if (answers_at_any_hour((MessageKind)kind))
            goes(&gate);
        else
            is_never(&gate, "opted out");
        gate = open_way((MessageKind)kind);
        gate.consent = false;
        if (!answers_at_any_hour((MessageKind)kind)) is_never(&gate, "no consent");
        gate = open_way((MessageKind)kind);
        gate.suspended = true;
        if (!answers_at_any_hour((MessageKind)kind)) is_never(&gate, "suspended");
    }
}

static void a_hold_or_a_pause_bars_what_asks_for_stretching(void **state)
{
    (void)state;
    for (int kind = 0; kind < KINDS; kind++)
        for (int pause = 0; pause < 2; pause++) {
            GateCase gate = open_way((MessageKind)kind);
            gate.held = !pause;
            gate.paused = pause;
            if (asks_about_sessions((MessageKind)kind))
                is_never(&gate, pause ? "paused" : "held");
            else
                goes(&gate);
        }
}

static void after_the_end_only_the_goodbye_is_left(void **state)
{
    (void)state;
    for (int kind = 0; kind < KINDS; kind++) {
        GateCase gate = open_way((MessageKind)kind);
        gate.ended = true;
        if (answers_at_any_hour((MessageKind)kind) || kind == MESSAGE_GOODBYE)
            goes(&gate);
        else
            is_never(&gate, "ended");
    }
}

static void the_night_waits_for_the_morning(void **state)
{
    (void)state;
    for (int kind = 0; kind < KINDS; kind++) {
        GateCase gate = open_way((MessageKind)kind);
        gate.quiet = true;
        gate.quiet_over_ms = NOON_MS + 8 * HOUR;
        if (answers_at_any_hour((MessageKind)kind)) {
            goes(&gate);
            continue;
        }
        GateVerdict verdict = gate_judge(&gate);
        assert_int_equal(verdict.answer, GATE_LATER);
        assert_true(verdict.at_ms == NOON_MS + 8 * HOUR);
        gate.end_ms = NOON_MS + 8 * HOUR;
        is_never(&gate, "its end comes before the morning");
        gate.to_staff = true;
        goes(&gate);
    }
}

static void the_daily_cap_binds_what_osier_starts(void **state)
{
    (void)state;
    for (int kind = 0; kind < KINDS; kind++) {
        bool started = kind == MESSAGE_REMINDER || kind == MESSAGE_NUDGE ||
                       kind == MESSAGE_CHECKIN || kind == MESSAGE_WELCOME;
        GateCase gate = open_way((MessageKind)kind);
        gate.sent_today = 3;
        goes(&gate);
        gate.sent_today = 4;
        if (started)
            is_never(&gate, "the cap is reached");
        else
            goes(&gate);
    }
}

/* Every combination of bars: a bar never opens a way that was closed without it. */
static void a_further_bar_never_opens_the_way(void **state)
{
    (void)state;
    for (int kind = 0; kind < KINDS; kind++)
        for (unsigned bars = 0; bars < 128; bars++)
            for (unsigned more = 1; more < 128; more <<= 1) {
                GateCase gates[2];
                for (int i = 0; i < 2; i++) {
                    unsigned set = i == 0 ? bars : bars | more;
                    gates[i] = open_way((MessageKind)kind);
                    gates[i].consent = !(set & 1);
                    gates[i].stopped = set & 2;
                    gates[i].held = set & 4;
                    gates[i].paused = set & 8;
                    gates[i].suspended = set & 16;
                    gates[i].ended = set & 32;
                    gates[i].quiet = set & 64;
                    gates[i].quiet_over_ms = NOON_MS + HOUR;
                }
                assert_true(gate_judge(&gates[1]).answer >= gate_judge(&gates[0]).answer);
            }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_open_way_lets_every_kind_go),
        cmocka_unit_test(past_its_end_nothing_goes_not_even_to_staff),
        cmocka_unit_test(who_stopped_hears_only_what_answers),
        cmocka_unit_test(a_hold_or_a_pause_bars_what_asks_for_stretching),
        cmocka_unit_test(after_the_end_only_the_goodbye_is_left),
        cmocka_unit_test(the_night_waits_for_the_morning),
        cmocka_unit_test(the_daily_cap_binds_what_osier_starts),
        cmocka_unit_test(a_further_bar_never_opens_the_way),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
