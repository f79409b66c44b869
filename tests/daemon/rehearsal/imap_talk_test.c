/* SPDX-License-Identifier: Apache-2.0 */
/* The serving side of IMAP, by RFC 3501, and the mail that a client puts into it. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

#include "adapters/mail/compose.h"
#include "adapters/mail/read.h"
#include "daemon/rehearsal/imap_talk.h"
#include "daemon/rehearsal/mail_answer.h"

typedef struct {
    ImapMailbox mailbox;
    ImapTalk *talk;
    GString *out;
    bool open;
} Call;

static void bytes_free(void *bytes)
{
    if (bytes != NULL) g_bytes_unref(bytes);
}

static int call_new(void **state)
{
    Call *call = g_new0(Call, 1);

    call->mailbox = (ImapMailbox){
        .mails = g_ptr_array_new_with_free_func(bytes_free), .first_uid = 5, .validity = 7};
    g_ptr_array_add(call->mailbox.mails, g_bytes_new_static("one\r\n", 5));
    g_ptr_array_add(call->mailbox.mails, NULL);
    g_ptr_array_add(call->mailbox.mails, g_bytes_new_static("three\r\n", 7));
    call->talk = imap_talk_new(&call->mailbox);
    call->out = g_string_new(NULL);
    call->open = true;
    *state = call;
    return 0;
}

static int call_end(void **state)
{
    Call *call = *state;

    imap_talk_free(call->talk);
    g_ptr_array_unref(call->mailbox.mails);
    g_string_free(call->out, TRUE);
    g_free(call);
    return 0;
}

/* Says a line, byte by byte, and gives what was answered. */
static const char *say(Call *call, const char *line)
{
    g_string_truncate(call->out, 0);
    for (; *line != '\0' && call->open; line++)
        call->open = imap_talk_hear(call->talk, line, 1, call->out);
    if (call->open) call->open = imap_talk_hear(call->talk, "\r\n", 2, call->out);
    return call->out->str;
}

static void open_mailbox(Call *call)
{
    assert_string_equal(say(call, "a LOGIN me key"), "a OK welcome\r\n");
    const char *told = say(call, "b SELECT INBOX");
    assert_non_null(strstr(told, "* 2 EXISTS\r\n"));
    assert_non_null(strstr(told, "[UIDVALIDITY 7]"));
    assert_non_null(strstr(told, "[UIDNEXT 8]"));
    assert_true(g_str_has_suffix(told, "b OK [READ-WRITE] selected\r\n"));
}

static void mails_are_found_and_fetched(void **state)
{
    Call *call = *state;

    open_mailbox(call);
    assert_string_equal(say(call, "c UID SEARCH SINCE 1-Mar-2026"),
                        "* SEARCH 5 7\r\nc OK searched\r\n");
    assert_string_equal(say(call, "c UID SEARCH UID 6:*"), "* SEARCH 7\r\nc OK searched\r\n");
    /* RFC 3501 6.4.8: n:* holds the last mail in any case */
    assert_string_equal(say(call, "c UID SEARCH UID 90:*"), "* SEARCH 7\r\nc OK searched\r\n");
    assert_string_equal(say(call, "d UID FETCH 7 BODY[]"),
                        "* 3 FETCH (UID 7 BODY[] {7}\r\nthree\r\n)\r\nd OK fetched\r\n");
    assert_string_equal(say(call, "d UID FETCH 6 BODY[]"), "d OK fetched\r\n");
    assert_string_equal(say(call, "d UID FETCH 99999999999999999999 BODY[]"), "d OK fetched\r\n");
    assert_int_equal(call->mailbox.searches, 3);
    assert_string_equal(say(call, "e LOGOUT"), "* BYE goodbye\r\ne OK gone\r\n");
    assert_false(call->open);
}

static void words_out_of_turn_are_refused(void **state)
{
    Call *call = *state;

    assert_string_equal(say(call, "a SELECT INBOX"), "a NO log in first\r\n");
    assert_string_equal(say(call, ""), "* BAD no tag\r\n");
    assert_string_equal(say(call, "b AUTHENTICATE PLAIN"), "+ \r\n");
    assert_string_equal(say(call, "AG1lAGtleQ=="), "b OK welcome\r\n");
    assert_string_equal(say(call, "c UID SEARCH ALL"), "c BAD select first\r\n");
    assert_string_equal(say(call, "d STORE 1 +FLAGS (\\Deleted)"), "d BAD select first\r\n");
    g_autofree char *endless = g_strnfill(20000, 'x');
    assert_string_equal(say(call, endless), "* BYE the line is too long\r\n");
    assert_false(call->open);
}

/* What the rehearsal's people write is what osier reads. */
static void answer_by_mail_is_read_back(void **state)
{
    g_autofree char *why = NULL;
    const Outgoing reminder = {.id = "00112233445566778899AABBCCDDEEFF",
                               .to = "ada@client.example",
                               .subject = "Your stretches today — please",
                               .text = "it is time.\n\nAnswer D or N.",
                               .at_ms = INT64_C(1774857600000)};
    g_autoptr(GBytes) asked =
        mail_compose("Clinic <sessions@clinic.example>", &reminder, true, &why);
    g_autoptr(GTimeZone) zone = g_time_zone_new_offset(3600);
    g_autoptr(GBytes) answer = mail_answer(&(MailAnswer){.id = "in-00001",
                                                         .name = "Ada N.",
                                                         .from = "ada@client.example",
                                                         .text = "Done, a 4",
                                                         .at_ms = INT64_C(1774861200000),
                                                         .zone = zone,
                                                         .answered = asked});
    g_autoptr(MailIn) in = mail_read(answer, true);

    (void)state;
    assert_string_equal(in->incoming->from, "ada@client.example");
    assert_string_equal(in->incoming->ref, reminder.id);
    assert_string_equal(in->incoming->subject, "Re: Your stretches today — please");
    assert_int_equal(in->incoming->at_ms, INT64_C(1774861200000));
    assert_true(g_str_has_prefix(in->incoming->id, "in-00001@client.example#"));
    assert_true(g_str_has_prefix(in->incoming->text, "Done, a 4\n\n> On Mon, 30 Mar 2026"));
    assert_true(g_str_has_suffix(in->incoming->text, "> it is time.\n>\n> Answer D or N.\n"));
    assert_null(in->incoming->problem);
    assert_false(in->incoming->automatic);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(mails_are_found_and_fetched, call_new, call_end),
        cmocka_unit_test_setup_teardown(words_out_of_turn_are_refused, call_new, call_end),
        cmocka_unit_test(answer_by_mail_is_read_back),
    };
    mail_start();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
