/* SPDX-License-Identifier: Apache-2.0 */
/* The requests and answers of a mailbox, as values. The answers are in the forms of RFC 3501. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "adapters/mail/mailbox.h"

static MailServer server = {.url = (char *)"imaps://mail.example:993/INBOX",
                            .user = (char *)"sessions"};
static const Gateway gateway = {.imap = &server};

static WireResponse *answer(const char *head, const char *body)
{
    WireResponse *response = wire_response_new(PHASE_ANSWERED, 0, body, NULL);

    response->head = g_strdup(head);
    return response;
}

static void cursor_goes_to_text_and_back(void **state)
{
    const MailCursor cursor = {7, 1234, INT64_C(1774857600000)};
    g_autofree char *text = mail_cursor_text(&cursor);
    const MailCursor back = mail_cursor_read(text, 5);

    (void)state;
    assert_string_equal(text, "7:1234:1774857600000");
    assert_int_equal(back.validity, 7);
    assert_int_equal(back.uid, 1234);
    assert_int_equal(back.since_ms, INT64_C(1774857600000));
    static const char *const bad[] = {NULL,
                                      "",
                                      "7",
                                      "7:8",
                                      "7:8:",
                                      "a:b:c",
                                      "7:8:9x",
                                      "-1:2:3",
                                      "99999999999:1:2",
                                      "7:8:99999999999999999999"};
    for (size_t i = 0; i < G_N_ELEMENTS(bad); i++) {
        const MailCursor none = mail_cursor_read(bad[i], 5);
        assert_int_equal(none.validity, 0);
        assert_int_equal(none.uid, 0);
        assert_int_equal(none.since_ms, 5);
    }
}

static void search_is_by_number_or_by_date(void **state)
{
    const MailCursor known = {7, 1234, INT64_C(1774857600000)}, fresh = {0, 0, known.since_ms};
    g_autoptr(WireRequest) one = mailbox_search(&gateway, &known, "key");
    g_autoptr(WireRequest) other = mailbox_search(&gateway, &fresh, "key");

    (void)state;
    assert_string_equal(one->url, "imaps://mail.example:993/INBOX");
    assert_string_equal(one->method, "UID SEARCH UID 1235:*");
    assert_string_equal(one->user, "sessions");
    assert_string_equal(one->password, "key");
    assert_string_equal(other->method, "UID SEARCH SINCE 28-Mar-2026"); /* two days before */
}

static void folder_is_the_inbox_unless_named(void **state)
{
    static const char *const urls[][2] = {
        {"imaps://mail.example", "imaps://mail.example/INBOX;UIDVALIDITY=7/;UID=9"},
        {"imaps://mail.example/", "imaps://mail.example/INBOX;UIDVALIDITY=7/;UID=9"},
        {"imap://[::1]:143/Sessions", "imap://[::1]:143/Sessions;UIDVALIDITY=7/;UID=9"}};
    const MailCursor cursor = {7, 8, 0};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(urls); i++) {
        MailServer named = {.url = (char *)urls[i][0]};
        g_autoptr(WireRequest) request =
            mailbox_fetch(&(Gateway){.imap = &named}, &cursor, 9, NULL);
        assert_string_equal(request->url, urls[i][1]);
        assert_null(request->method);
        assert_int_equal(request->answer_max, MAILBOX_MAIL_MAX);
    }
}

#define SELECTED                                                                                   \
    "* OK [UIDVALIDITY 7] ok\r\n* OK [UIDNEXT 44] next\r\nA3 OK selected\r\nA4 OK done\r\n"

static GArray *found(const char *head, const char *body, MailCursor *cursor, bool *again)
{
    g_autoptr(WireResponse) response = answer(head, body);
    g_autofree char *why = NULL;
    GArray *uids = mailbox_found(response, cursor, again, &why);

    assert_int_equal(uids == NULL, why != NULL);
    return uids;
}

static void what_is_behind_the_cursor(void **state)
{
    static const struct {
        const char *body;
        guint32 uids[4];
    } cases[] = {{"* SEARCH 12 9 11\r\n", {9, 11, 12}},
                 {"* SEARCH 8\r\n", {0}}, /* 9:* gives the last there is */
                 {"* SEARCH\r\n", {0}},
                 {"", {0}},
                 {"* SEARCH 9\r\n* SEARCH 10 9\r\n", {9, 10}},
                 {"* SEARCH 10 (MODSEQ 917162500)\r\n", {10}}};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        MailCursor cursor = {7, 8, 0};
        bool again;
        g_autoptr(GArray) uids = found(SELECTED, cases[i].body, &cursor, &again);
        assert_non_null(uids);
        assert_false(again);
        for (guint k = 0; k < uids->len; k++)
            assert_int_equal(g_array_index(uids, guint32, k), cases[i].uids[k]);
        assert_int_equal(cases[i].uids[uids->len], 0);
        assert_int_equal(cursor.uid, 8);
    }
}

static void answers_that_cannot_be_trusted(void **state)
{
    static const char *const cases[][2] = {{SELECTED, "* SEARCH 9 1x\r\n"},
                                           {SELECTED, "* SEARCH 9 99999999999\r\n"},
                                           {SELECTED, "nonsense\r\n"},
                                           {"A3 OK selected\r\nA4 OK done\r\n", "* SEARCH 9\r\n"},
                                           {"* OK [UIDVALIDITY 7] x\r\nA4 NO busy\r\n", ""},
                                           {"", ""},
                                           {NULL, ""}};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        MailCursor cursor = {7, 8, 5};
        bool again;
        assert_null(found(cases[i][0], cases[i][1], &cursor, &again));
        assert_int_equal(cursor.uid, 8);
        assert_int_equal(cursor.validity, 7);
    }
}

static void another_mailbox_is_searched_by_date(void **state)
{
    MailCursor cursor = {6, 1000, 5};
    bool again;
    g_autoptr(GArray) uids = found(SELECTED, "* SEARCH 1001\r\n", &cursor, &again);

    (void)state;
    assert_true(again);
    assert_int_equal(uids->len, 0);
    assert_int_equal(cursor.validity, 7);
    assert_int_equal(cursor.uid, 0);
    assert_int_equal(cursor.since_ms, 5);
    g_autoptr(GArray) dated = found(SELECTED, "* SEARCH 3 4\r\n", &cursor, &again);
    assert_false(again);
    assert_int_equal(dated->len, 2);
    assert_int_equal(cursor.uid, 0);
}

static void quiet_mailbox_is_known_from_its_next_number(void **state)
{
    MailCursor cursor = {0, 0, 5};
    bool again;
    g_autoptr(GArray) uids = found(SELECTED, "* SEARCH\r\n", &cursor, &again);

    (void)state;
    assert_false(again);
    assert_int_equal(uids->len, 0);
    assert_int_equal(cursor.uid, 43);
}

static void what_a_fetch_brings(void **state)
{
    static const struct {
        const char *head, *body;
        Fetched fetched;
    } cases[] = {{"A5 OK done\r\n", "From: x\r\n", FETCHED_WHOLE},
                 {"A4 OK x\r\nA5 OK done\r\n", "", FETCHED_GONE},
                 {"A4 OK x\r\nA5 NO [SERVERBUG] not\tnow\r\n", "", FETCHED_NOT},
                 {"A5 BAD x", "", FETCHED_NOT}};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(WireResponse) response = answer(cases[i].head, cases[i].body);
        g_autofree char *why = NULL;
        assert_int_equal(mailbox_fetched(response, &why), cases[i].fetched);
        assert_int_equal(why != NULL, cases[i].fetched == FETCHED_NOT);
    }
    g_autoptr(WireResponse) large = wire_response_new(PHASE_UNSURE, 0, "From: x", "too large");
    large->too_large = true;
    assert_int_equal(mailbox_fetched(large, NULL), FETCHED_BEGINNING);
    g_autoptr(WireResponse) lost = wire_response_new(PHASE_UNSURE, 0, NULL, "reset");
    g_autofree char *why = NULL;
    assert_int_equal(mailbox_fetched(lost, &why), FETCHED_NOT);
    assert_string_equal(why, "reset");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(cursor_goes_to_text_and_back),
        cmocka_unit_test(search_is_by_number_or_by_date),
        cmocka_unit_test(folder_is_the_inbox_unless_named),
        cmocka_unit_test(what_is_behind_the_cursor),
        cmocka_unit_test(answers_that_cannot_be_trusted),
        cmocka_unit_test(another_mailbox_is_searched_by_date),
        cmocka_unit_test(quiet_mailbox_is_known_from_its_next_number),
        cmocka_unit_test(what_a_fetch_brings),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
