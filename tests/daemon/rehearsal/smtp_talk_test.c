/* SPDX-License-Identifier: Apache-2.0 */
/* The receiving side of SMTP, by RFC 5321. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

#include "daemon/rehearsal/smtp_talk.h"

typedef struct {
    int mails;
    char *first_to;
    guint recipients;
    char *mail;
    bool open;
    GString *out;
    SmtpTalk *talk;
} Call;

static void on_mail(const GPtrArray *to, GBytes *mail, void *context)
{
    Call *call = context;
    gsize length;
    const char *bytes = g_bytes_get_data(mail, &length);

    call->mails++;
    call->recipients = to->len;
    g_free(call->first_to);
    g_free(call->mail);
    call->first_to = g_strdup(to->pdata[0]);
    call->mail = g_strndup(bytes, length);
}

static Call *call_new(void)
{
    Call *call = g_new0(Call, 1);

    call->out = g_string_new(NULL);
    call->open = true;
    call->talk = smtp_talk_new(on_mail, call);
    return call;
}

static void call_free(Call *call)
{
    smtp_talk_free(call->talk);
    g_string_free(call->out, TRUE);
    g_free(call->first_to);
    g_free(call->mail);
    g_free(call);
}

/* Says bytes, in pieces of a size, and gives what was answered. */
static const char *say_in(Call *call, const char *bytes, size_t piece)
{
    g_string_truncate(call->out, 0);
    for (size_t at = 0; call->open && at < strlen(bytes); at += piece)
        call->open =
            smtp_talk_hear(call->talk, bytes + at, MIN(piece, strlen(bytes) - at), call->out);
    return call->out->str;
}

static void expect(Call *call, const char *bytes, const char *code)
{
    const char *answer = say_in(call, bytes, strlen(bytes));

    if (strncmp(answer, code, 3) != 0) fail_msg("%s gave %s instead of %s", bytes, answer, code);
}

static void a_mail_is_taken(void **state)
{
    Call *call = call_new();

    (void)state;
    expect(call, "EHLO osier.example\r\n", "250");
    assert_non_null(strstr(call->out->str, "AUTH PLAIN LOGIN"));
    expect(call, "MAIL FROM:<sessions@clinic.example> SIZE=200\r\n", "250");
    expect(call, "RCPT TO:<priya@example.net>\r\n", "250");
    expect(call, "RCPT TO:<desk@clinic.example>\r\n", "250");
    expect(call, "DATA\r\n", "354");
    expect(call, "Subject: x\r\n\r\nA line.\r\n..two dots\r\n...\r\nend\r\n.\r\n", "250");
    assert_int_equal(call->mails, 1);
    assert_int_equal(call->recipients, 2);
    assert_string_equal(call->first_to, "priya@example.net");
    /* RFC 5321 4.5.2: the sender's extra dot goes. */
    assert_string_equal(call->mail, "Subject: x\r\n\r\nA line.\r\n.two dots\r\n..\r\nend\r\n");
    expect(call, "QUIT\r\n", "221");
    assert_false(call->open);
    call_free(call);
}

static void pieces_of_any_size_are_the_same_talk(void **state)
{
    static const char TALK[] = "EHLO a\r\nMAIL FROM:<a@b.example>\r\nRCPT TO:<c@d.example>\r\n"
                               "DATA\r\nhello\r\n.\r\nQUIT\r\n";

    (void)state;
    for (size_t piece = 1; piece < sizeof TALK; piece++) {
        Call *call = call_new();
        say_in(call, TALK, piece);
        assert_int_equal(call->mails, 1);
        assert_string_equal(call->mail, "hello\r\n");
        assert_false(call->open);
        call_free(call);
    }
}

static void any_password_will_do(void **state)
{
    Call *call = call_new();

    (void)state;
    expect(call, "EHLO a\r\n", "250");
    expect(call, "AUTH PLAIN AHVzZXIAcGFzcw==\r\n", "235");
    expect(call, "AUTH PLAIN\r\n", "334");
    expect(call, "AHVzZXIAcGFzcw==\r\n", "235");
    expect(call, "AUTH LOGIN\r\n", "334");
    expect(call, "dXNlcg==\r\n", "334");
    expect(call, "cGFzcw==\r\n", "235");
    expect(call, "AUTH GSSAPI\r\n", "504");
    call_free(call);
}

static void out_of_order_is_refused(void **state)
{
    Call *call = call_new();

    (void)state;
    expect(call, "MAIL FROM:<a@b.example>\r\n", "503");
    expect(call, "HELO a\r\n", "250");
    expect(call, "RCPT TO:<c@d.example>\r\n", "503");
    expect(call, "DATA\r\n", "503");
    expect(call, "MAIL FROM: a@b.example\r\n", "501");
    expect(call, "MAIL FROM:<a@b.example> SIZE=99999999\r\n", "552");
    expect(call, "MAIL FROM:<a@b.example>\r\n", "250");
    expect(call, "RCPT TO:<>\r\n", "501");
    expect(call, "RCPT TO:<c@d.example>\r\n", "250");
    expect(call, "RSET\r\n", "250");
    expect(call, "DATA\r\n", "503");
    expect(call, "FOO\r\n", "500");
    expect(call, "NOOP\r\n", "250");
    assert_int_equal(call->mails, 0);
    call_free(call);
}

static void an_endless_line_ends_the_talk(void **state)
{
    Call *call = call_new();
    g_autofree char *line = g_strnfill(20000, 'x');

    (void)state;
    expect(call, line, "500");
    assert_false(call->open);
    call_free(call);
}

static void a_mail_beyond_the_limit_is_not_kept(void **state)
{
    Call *call = call_new();
    g_autofree char *line = g_strnfill(1000, 'x');
    g_autofree char *whole = g_strconcat(line, "\r\n", NULL);

    (void)state;
    expect(call, "EHLO a\r\nMAIL FROM:<a@b.example>\r\nRCPT TO:<c@d.example>\r\nDATA\r\n", "250");
    for (int i = 0; i < 11000; i++)
        say_in(call, whole, strlen(whole));
    expect(call, ".\r\n", "552");
    assert_int_equal(call->mails, 0);
    call_free(call);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_mail_is_taken),
        cmocka_unit_test(pieces_of_any_size_are_the_same_talk),
        cmocka_unit_test(any_password_will_do),
        cmocka_unit_test(out_of_order_is_refused),
        cmocka_unit_test(an_endless_line_ends_the_talk),
        cmocka_unit_test(a_mail_beyond_the_limit_is_not_kept),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
