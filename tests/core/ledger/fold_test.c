/* SPDX-License-Identifier: Apache-2.0 */
/* The fold by situation: what must come out when events arrive late, twice or the wrong way round.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "tests/support/ledger_tables.h"

#define OURS "00000000000000aa"
#define THEIRS "00000000000000bb"
#define CLIENT "K7QF2M9T"

typedef struct {
    LedgerTables *tables;
    int64_t seq;
} Story;

static Story begin(void)
{
    return (Story){.tables = ledger_tables_new()};
}

static void end(Story *story)
{
    ledger_tables_free(story->tables);
}

static void tell_at(Story *story, const char *replica, int64_t seq, int64_t wall, const char *kind,
                    const char *subject, const char *body)
{
    g_autoptr(Event) event = ledger_event(replica, seq, wall, kind, subject, body);
    FoldTables fold = ledger_tables_fold(story->tables);

    fold_event(&fold, event);
}

/* The next event of our replica, a millisecond after the one before. */
static void tell(Story *story, const char *kind, const char *subject, const char *body)
{
    story->seq++;
    tell_at(story, OURS, story->seq, 1000 + story->seq, kind, subject, body);
}

static const char *session_state(Story *story)
{
    return row_text(ledger_tables_row(story->tables, TABLE_SESSION, "S1"), SESSION_STATE);
}

#define ASKED "{\"session\":\"S1\",\"date\":\"2026-03-02\",\"slot\":1,\"message\":\"M1\",\"at\":5}"
#define FATE(fate)                                                                                 \
    "{\"message\":\"M1\",\"kind\":\"reminder\",\"session\":\"S1\",\"at\":5,\"fate\":\"" fate "\"}"
#define CLOSED(as) "{\"session\":\"S1\",\"as\":\"" as "\",\"at\":9}"
#define REPORT(done)                                                                               \
    "{\"session\":\"S1\",\"at\":8,\"done\":\"" done "\",\"intensity\":4,\"pain\":\"some\"}"

static void lift_comes_before_what_it_lifts(void **state)
{
    Story story = begin();

    (void)state;
    tell(&story, "hold.lift", CLIENT, "{\"ends\":[\"" OURS ":9\"],\"at\":50,\"by\":\"R. Okafor\"}");
    const Row *bar = ledger_tables_row(story.tables, TABLE_BAR, OURS ":9");
    assert_null(row_text(bar, BAR_CLIENT));
    tell_at(&story, OURS, 9, 900, "hold.set", CLIENT, "{\"at\":40,\"why\":\"pain\"}");
    bar = ledger_tables_row(story.tables, TABLE_BAR, OURS ":9");
    assert_string_equal(row_text(bar, BAR_KIND), "hold");
    assert_int_equal(row_int(bar, BAR_LIFTED_AT), 50);
    assert_string_equal(row_text(bar, BAR_LIFTED_BY), "R. Okafor");
    end(&story);
}

static void lift_of_one_hold_leaves_the_other(void **state)
{
    Story story = begin();

    (void)state;
    tell(&story, "hold.set", CLIENT, "{\"at\":40}");
    tell(&story, "hold.set", CLIENT, "{\"at\":41}");
    tell(&story, "hold.lift", CLIENT, "{\"ends\":[\"" OURS ":1\"],\"at\":50}");
    assert_false(row_is_null(ledger_tables_row(story.tables, TABLE_BAR, OURS ":1"), BAR_LIFTED_AT));
    assert_true(row_is_null(ledger_tables_row(story.tables, TABLE_BAR, OURS ":2"), BAR_LIFTED_AT));
    end(&story);
}

static void nothing_lifts_an_erasure(void **state)
{
    Story story = begin();

    (void)state;
    tell(&story, "client.start", CLIENT, "{\"ends\":[\"" OURS ":2\"],\"at\":50}");
    tell(&story, "client.erase", CLIENT, "{\"at\":40}");
    tell(&story, "client.start", CLIENT, "{\"ends\":[\"" OURS ":2\"],\"at\":60}");
    assert_true(row_is_null(ledger_tables_row(story.tables, TABLE_BAR, OURS ":2"), BAR_LIFTED_AT));
    end(&story);
}

static void redacted_stop_still_stops(void **state)
{
    Story story = begin();

    (void)state;
    tell(&story, "client.stop", CLIENT, NULL);
    const Row *bar = ledger_tables_row(story.tables, TABLE_BAR, OURS ":1");
    assert_string_equal(row_text(bar, BAR_CLIENT), CLIENT);
    assert_string_equal(row_text(bar, BAR_KIND), "stop");
    end(&story);
}

static void report_comes_before_the_asking(void **state)
{
    Story story = begin();

    (void)state;
    tell(&story, "report.made", CLIENT, REPORT("partly"));
    assert_string_equal(session_state(&story), "partly");
    tell(&story, "session.asked", CLIENT, ASKED);
    assert_string_equal(session_state(&story), "partly");
    const Row *session = ledger_tables_row(story.tables, TABLE_SESSION, "S1");
    assert_string_equal(row_text(session, SESSION_DATE), "2026-03-02");
    assert_int_equal(row_int(session, SESSION_ASKED_AT), 5);
    end(&story);
}

static void outcome_goes_by_precedence(void **state)
{
    Story story = begin();

    (void)state;
    tell(&story, "session.asked", CLIENT, ASKED);
    assert_string_equal(session_state(&story), "asked");
    tell(&story, "session.closed", CLIENT, CLOSED("unasked"));
    assert_string_equal(session_state(&story), "unasked");
    tell(&story, "session.closed", CLIENT, CLOSED("silent"));
    assert_string_equal(session_state(&story), "silent");
    tell(&story, "message.settled", CLIENT, FATE("failed"));
    assert_string_equal(session_state(&story), "unasked");
    tell(&story, "session.closed", CLIENT, CLOSED("excused"));
    assert_string_equal(session_state(&story), "excused");
    tell(&story, "report.made", CLIENT, REPORT("no"));
    assert_string_equal(session_state(&story), "not");
    tell(&story, "report.made", CLIENT, REPORT("yes"));
    assert_string_equal(session_state(&story), "done");
    end(&story);
}

static void failed_receipt_after_silence_means_unasked(void **state)
{
    Story story = begin();

    (void)state;
    tell(&story, "session.asked", CLIENT, ASKED);
    tell(&story, "message.settled", CLIENT, FATE("accepted"));
    tell(&story, "session.closed", CLIENT, CLOSED("silent"));
    assert_string_equal(session_state(&story), "silent");
    tell(&story, "message.settled", CLIENT, FATE("failed"));
    assert_string_equal(session_state(&story), "unasked");
    end(&story);
}

static void fate_comes_before_the_asking(void **state)
{
    Story story = begin();

    (void)state;
    tell(&story, "message.settled", CLIENT, FATE("lapsed"));
    assert_null(ledger_tables_row(story.tables, TABLE_SESSION, "S1"));
    tell(&story, "session.asked", CLIENT, ASKED);
    assert_string_equal(session_state(&story), "unasked");
    end(&story);
}

static void receipt_of_delivery_outranks_doubt(void **state)
{
    Story story = begin();

    (void)state;
    tell(&story, "session.asked", CLIENT, ASKED);
    tell_at(&story, THEIRS, 1, 90, "message.settled", CLIENT,
            "{\"message\":\"M1\",\"fate\":\"delivered\",\"fate_at\":7}");
    tell(&story, "message.settled", CLIENT, FATE("unsure"));
    assert_string_equal(session_state(&story), "asked");
    const Row *message = ledger_tables_row(story.tables, TABLE_MESSAGE, "M1");
    assert_string_equal(row_text(message, MESSAGE_FATE), "delivered");
    assert_string_equal(row_text(message, MESSAGE_KIND), "reminder");
    end(&story);
}

static void nudge_that_fails_leaves_the_session_asked(void **state)
{
    Story story = begin();

    (void)state;
    tell(&story, "session.asked", CLIENT, ASKED);
    tell(&story, "message.settled", CLIENT,
         "{\"message\":\"M2\",\"kind\":\"nudge\",\"session\":\"S1\",\"at\":6,\"fate\":\"failed\"}");
    assert_string_equal(session_state(&story), "asked");
    end(&story);
}

static void report_of_pain_alone_settles_nothing(void **state)
{
    Story story = begin();

    (void)state;
    tell(&story, "session.asked", CLIENT, ASKED);
    tell(&story, "report.made", CLIENT,
         "{\"session\":\"S1\",\"at\":8,\"done\":null,\"pain\":\"6\"}");
    assert_string_equal(session_state(&story), "asked");
    const Row *report = ledger_tables_row(story.tables, TABLE_REPORT, OURS ":2");
    assert_string_equal(row_text(report, REPORT_PAIN), "6");
    assert_true(row_is_null(report, REPORT_DONE));
    end(&story);
}

static void later_writer_wins_and_the_loser_is_kept(void **state)
{
    Story story = begin();

    (void)state;
    tell_at(&story, THEIRS, 1, 2000, "client.set", CLIENT,
            "{\"fields\":{\"phone\":\"+442079460002\"}}");
    tell(&story, "client.set", CLIENT,
         "{\"fields\":{\"phone\":\"+442079460001\",\"name\":\"Ada N.\"}}");
    const Row *phone = ledger_tables_pair(story.tables, TABLE_SETTING, CLIENT, "phone");
    assert_string_equal(row_text(phone, SETTING_VALUE), "\"+442079460002\"");
    const Row *sms = ledger_tables_pair(story.tables, TABLE_CONTACT, CLIENT, "sms");
    assert_string_equal(row_text(sms, CONTACT_ADDRESS), "+442079460002");
    g_autofree char *dump = ledger_tables_dump(story.tables);
    assert_non_null(
        strstr(dump, "setting_lost subject=\"" CLIENT "\" field=\"phone\" replica=\"" OURS "\""));
    assert_null(strstr(dump, "setting_lost subject=\"" CLIENT "\" field=\"name\""));
    end(&story);
}

/* Shapiro and others, RR-7506: a register with equal stamps must be broken by the replica. */
static void equal_stamps_are_broken_by_replica(void **state)
{
    for (int order = 0; order < 2; order++) {
        Story story = begin();

        (void)state;
        for (int i = 0; i < 2; i++) {
            bool ours = i == order;

            tell_at(&story, ours ? OURS : THEIRS, 1, 10, "client.set", CLIENT,
                    ours ? "{\"fields\":{\"name\":\"A\"}}" : "{\"fields\":{\"name\":\"B\"}}");
        }
        const Row *name = ledger_tables_pair(story.tables, TABLE_SETTING, CLIENT, "name");
        assert_string_equal(row_text(name, SETTING_VALUE), "\"B\"");
        end(&story);
    }
}

static void cleared_number_is_no_address(void **state)
{
    Story story = begin();

    (void)state;
    tell(&story, "client.set", CLIENT, "{\"fields\":{\"phone\":\"+442079460001\"}}");
    tell(&story, "client.consent", CLIENT, "{\"channel\":\"sms\",\"text\":\"signed\",\"at\":4}");
    tell(&story, "client.set", CLIENT, "{\"fields\":{\"phone\":null}}");
    const Row *sms = ledger_tables_pair(story.tables, TABLE_CONTACT, CLIENT, "sms");
    assert_null(row_text(sms, CONTACT_ADDRESS));
    assert_string_equal(row_text(sms, CONTACT_CONSENT), "signed");
    assert_null(
        row_text(ledger_tables_pair(story.tables, TABLE_SETTING, CLIENT, "phone"), SETTING_VALUE));
    end(&story);
}

static void reading_comes_before_the_reply(void **state)
{
    Story story = begin();

    (void)state;
    tell(&story, "reply.read", "R1",
         "{\"client\":\"" CLIENT "\",\"state\":\"unread\",\"glance\":true}");
    tell(&story, "reply.received", "R1",
         "{\"text\":\"hm\",\"from\":\"+442079460001\",\"at\":3,\"arrived\":4}");
    const Row *reply = ledger_tables_row(story.tables, TABLE_REPLY, "R1");
    assert_string_equal(row_text(reply, REPLY_STATE), "unread");
    assert_string_equal(row_text(reply, REPLY_TEXT), "hm");
    assert_int_equal(row_int(reply, REPLY_GLANCE), 1);
    end(&story);
}

static void settling_stands_over_a_later_reading(void **state)
{
    Story story = begin();

    (void)state;
    tell(&story, "reply.settled", "R1", "{\"by\":\"R. Okafor\",\"session\":\"S1\"}");
    tell(&story, "reply.read", "R1",
         "{\"client\":\"" CLIENT "\",\"session\":\"S2\",\"state\":\"read\",\"glance\":1}");
    const Row *reply = ledger_tables_row(story.tables, TABLE_REPLY, "R1");
    assert_string_equal(row_text(reply, REPLY_STATE), "settled");
    assert_string_equal(row_text(reply, REPLY_SESSION), "S1");
    assert_string_equal(row_text(reply, REPLY_CLIENT), CLIENT);
    assert_int_equal(row_int(reply, REPLY_GLANCE), 0);
    end(&story);
}

static void alert_is_as_far_as_any_event_tells(void **state)
{
    Story story = begin();

    (void)state;
    tell(&story, "alert.closed", "A1", "{\"by\":\"R. Okafor\",\"at\":30,\"outcome\":\"resume\"}");
    tell(&story, "alert.passed", "A1", "{\"to\":\"J. Lindqvist\",\"at\":20,\"round\":1}");
    tell_at(&story, OURS, 2, 1002, "alert.passed", "A1",
            "{\"to\":\"J. Lindqvist\",\"at\":20,\"round\":1}");
    tell(&story, "alert.taken", "A1", "{\"by\":\"J. Lindqvist\",\"at\":25,\"via\":\"text\"}");
    assert_true(row_is_null(ledger_tables_row(story.tables, TABLE_ALERT, "A1"), ALERT_OPENED));
    tell(&story, "alert.opened", "A1",
         "{\"client\":\"" CLIENT
         "\",\"kind\":\"pain\",\"class\":\"now\",\"at\":10,\"reasons\":[]}");
    const Row *alert = ledger_tables_row(story.tables, TABLE_ALERT, "A1");
    assert_string_equal(row_text(alert, ALERT_STATE), "closed");
    assert_int_equal(row_int(alert, ALERT_PASSED), 1);
    assert_int_equal(row_int(alert, ALERT_OPENED), 1);
    assert_string_equal(row_text(alert, ALERT_TAKEN_BY), "J. Lindqvist");
    assert_string_equal(row_text(alert, ALERT_REASONS), "[]");
    end(&story);
}

static void the_clinic_has_the_duty_and_nothing_of_a_client(void **state)
{
    Story story = begin();

    (void)state;
    tell(&story, "client.set", "clinic",
         "{\"fields\":{\"name\":\"Withy Lane\",\"phone\":\"+442079460001\"}}");
    tell(&story, "plan.set", "clinic", "{\"fields\":{\"programme\":\"calf-and-hamstring\"}}");
    tell(&story, "plan.move", "clinic", "{\"stage\":\"calf\"}");
    g_autofree char *dump = ledger_tables_dump(story.tables);
    assert_string_equal(dump, "");
    tell(&story, "sender.taken", "clinic", "{\"replica\":\"" OURS "\",\"epoch\":1}");
    assert_non_null(ledger_tables_pair(story.tables, TABLE_SETTING, "clinic", "sender"));
    end(&story);
}

static void what_a_newer_osier_wrote_changes_nothing(void **state)
{
    Story story = begin();

    (void)state;
    tell(&story, "client.teleported", CLIENT, "{\"at\":1}");
    tell(&story, "session.asked", CLIENT, "{\"sitting\":\"S1\"}");
    tell(&story, "session.closed", CLIENT, CLOSED("postponed"));
    tell(&story, "message.settled", CLIENT, "[1,2]");
    tell(&story, "reply.read", "R1", "no JSON");
    g_autofree char *dump = ledger_tables_dump(story.tables);
    assert_string_equal(dump, "");
    end(&story);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(lift_comes_before_what_it_lifts),
        cmocka_unit_test(lift_of_one_hold_leaves_the_other),
        cmocka_unit_test(nothing_lifts_an_erasure),
        cmocka_unit_test(redacted_stop_still_stops),
        cmocka_unit_test(report_comes_before_the_asking),
        cmocka_unit_test(outcome_goes_by_precedence),
        cmocka_unit_test(failed_receipt_after_silence_means_unasked),
        cmocka_unit_test(fate_comes_before_the_asking),
        cmocka_unit_test(receipt_of_delivery_outranks_doubt),
        cmocka_unit_test(nudge_that_fails_leaves_the_session_asked),
        cmocka_unit_test(report_of_pain_alone_settles_nothing),
        cmocka_unit_test(later_writer_wins_and_the_loser_is_kept),
        cmocka_unit_test(equal_stamps_are_broken_by_replica),
        cmocka_unit_test(cleared_number_is_no_address),
        cmocka_unit_test(reading_comes_before_the_reply),
        cmocka_unit_test(settling_stands_over_a_later_reading),
        cmocka_unit_test(alert_is_as_far_as_any_event_tells),
        cmocka_unit_test(the_clinic_has_the_duty_and_nothing_of_a_client),
        cmocka_unit_test(what_a_newer_osier_wrote_changes_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
