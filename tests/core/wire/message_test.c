/* SPDX-License-Identifier: Apache-2.0 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "core/wire/message.h"

static const char *const KINDS = "welcome reminder nudge answer question safety stopped help "
                                 "checkin alert update digest goodbye";
static const char *const FATES = "waiting writing accepted delivered refused failed lapsed unsure";

static void every_kind_keeps_its_name(void **state)
{
    g_auto(GStrv) names = g_strsplit(KINDS, " ", -1);
    MessageKind kind;

    (void)state;
    for (int i = 0; names[i] != NULL; i++) {
        assert_true(message_kind_from_name(names[i], &kind));
        assert_int_equal(kind, i);
        assert_string_equal(message_kind_name(kind), names[i]);
    }
    assert_int_equal(g_strv_length(names), MESSAGE_GOODBYE + 1);
    assert_false(message_kind_from_name("Reminder", &kind));
    assert_false(message_kind_from_name("", &kind));
    assert_false(message_kind_from_name(NULL, &kind));
}

static void every_channel_and_fate_keeps_its_name(void **state)
{
    g_auto(GStrv) names = g_strsplit(FATES, " ", -1);
    Channel channel;
    Fate fate;

    (void)state;
    for (int i = 0; names[i] != NULL; i++) {
        assert_true(fate_from_name(names[i], &fate));
        assert_int_equal(fate, i);
        assert_string_equal(fate_name(fate), names[i]);
    }
    assert_int_equal(g_strv_length(names), FATE_UNSURE + 1);
    assert_false(fate_from_name("sent", &fate));
    for (int i = CHANNEL_SMS; i <= CHANNEL_PHONE; i++) {
        assert_true(channel_from_name(channel_name((Channel)i), &channel));
        assert_int_equal(channel, i);
    }
    assert_false(channel_from_name("fax", &channel));
}

static void a_message_leaves_only_by_way_of_writing(void **state)
{
    (void)state;
    for (int from = FATE_WAITING; from <= FATE_UNSURE; from++) {
        assert_false(fate_may_become((Fate)from, (Fate)from));
        assert_int_equal(fate_may_become((Fate)from, FATE_WRITING), from == FATE_WAITING);
        assert_int_equal(fate_may_become((Fate)from, FATE_ACCEPTED),
                         from == FATE_WRITING || from == FATE_UNSURE);
        assert_int_equal(fate_may_become((Fate)from, FATE_DELIVERED),
                         from == FATE_ACCEPTED || from == FATE_UNSURE);
    }
}

static void an_end_stays_an_end(void **state)
{
    const Fate ends[] = {FATE_DELIVERED, FATE_REFUSED, FATE_FAILED, FATE_LAPSED};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(ends); i++)
        for (int to = FATE_WAITING; to <= FATE_UNSURE; to++)
            assert_false(fate_may_become(ends[i], (Fate)to));
}

static void an_accepted_message_is_never_sent_again(void **state)
{
    (void)state;
    assert_false(fate_may_become(FATE_ACCEPTED, FATE_WAITING));
    assert_false(fate_may_become(FATE_ACCEPTED, FATE_UNSURE));
    assert_true(fate_may_become(FATE_ACCEPTED, FATE_FAILED));
    assert_true(fate_may_become(FATE_WRITING, FATE_LAPSED));
    assert_true(fate_may_become(FATE_UNSURE, FATE_WAITING));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_kind_keeps_its_name),
        cmocka_unit_test(every_channel_and_fate_keeps_its_name),
        cmocka_unit_test(a_message_leaves_only_by_way_of_writing),
        cmocka_unit_test(an_end_stays_an_end),
        cmocka_unit_test(an_accepted_message_is_never_sent_again),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
