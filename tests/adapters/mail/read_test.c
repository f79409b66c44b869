/* SPDX-License-Identifier: Apache-2.0 */
/* Mail of the kinds that mail programs, servers and strangers write. The delivery reports are the
 * examples of RFC 3464 appendix E, with a Message-ID of ours in what they return. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "adapters/mail/body.h"
#include "adapters/mail/compose.h"
#include "adapters/mail/read.h"

#define OWN "00112233445566778899AABBCCDDEEFF"
#define HEAD                                                                                       \
    "From: Ada N. <Ada@client.example>\r\nTo: sessions@clinic.example\r\n"                         \
    "Date: Mon, 2 Mar 2026 09:15:00 +0100\r\nMessage-ID: <m1@client.example>\r\n"                  \
    "Subject: Re: Today's session\r\n"
#define TEXT HEAD "Content-Type: text/plain; charset=utf-8\r\n"

static MailIn *read_bytes(const char *bytes, size_t length)
{
    g_autoptr(GBytes) mail = g_bytes_new(bytes, length);

    return mail_read(mail, true);
}

static MailIn *read_text(const char *mail)
{
    return read_bytes(mail, strlen(mail));
}

static void plain_answer_is_read(void **state)
{
    g_autoptr(MailIn) in = read_text(TEXT "In-Reply-To: <" OWN "@clinic.example>\r\n\r\n"
                                          "Done, a 4, no pain.\r\n\r\n"
                                          "> Dear Ada,\r\n> chest pain? ring 999\r\n");

    (void)state;
    assert_string_equal(in->incoming->from, "Ada@client.example");
    assert_string_equal(in->incoming->text,
                        "Done, a 4, no pain.\n\n> Dear Ada,\n> chest pain? ring 999\n");
    assert_string_equal(in->incoming->subject, "Re: Today's session");
    assert_string_equal(in->incoming->ref, OWN);
    assert_int_equal(in->incoming->at_ms, INT64_C(1772439300000));
    assert_null(in->incoming->problem);
    assert_false(in->incoming->automatic);
    assert_false(in->report);
    assert_int_equal(in->receipts->len, 0);
}

/* What stands in the header, and the id of ours that it names. */
static void what_is_answered(void **state)
{
    static const struct {
        const char *header;
        const char *own;
    } cases[] = {{"References: <a@b.example>\r\n <" OWN "@clinic.example> <c@d.example>\r\n", OWN},
                 {"In-Reply-To: <00112233445566778899aabbccddeeff@clinic.example>\r\n", OWN},
                 {"In-Reply-To: <c@d.example>\r\nReferences: <" OWN "@clinic.example>\r\n", OWN},
                 {"In-Reply-To: <0011@clinic.example>\r\n", NULL},
                 {"In-Reply-To: " OWN "\r\n", NULL},
                 {"In-Reply-To: <" OWN "0@clinic.example>\r\n", NULL},
                 {"", NULL}};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *mail = g_strconcat(TEXT, cases[i].header, "\r\nD\r\n", NULL);
        g_autoptr(MailIn) in = read_text(mail);
        if (cases[i].own != NULL)
            assert_string_equal(in->incoming->ref, cases[i].own);
        else
            assert_null(in->incoming->ref);
    }
}

/* The parts of a mail behind HEAD, and the text that is read from them. */
static const struct {
    const char *parts;
    const char *text;
} PARTS[] = {
    /* quoted-printable and Latin-1 */
    {"Content-Type: text/plain; charset=iso-8859-1\r\n"
     "Content-Transfer-Encoding: quoted-printable\r\n\r\n"
     "Fait, =E9lancement l=E9ger =3D 2 =\r\nsur 10\r\n",
     "Fait, élancement léger = 2 sur 10\n"},
    /* base64 */
    {"Content-Type: text/plain; charset=utf-8\r\nContent-Transfer-Encoding: base64\r\n\r\n"
     "RG9uZSwgYSA0Lg0KTm8gcGFpbi4NCg==\r\n",
     "Done, a 4.\nNo pain.\n"},
    /* bytes of no charset: as Western programs once wrote */
    {"Content-Type: text/plain\r\nContent-Transfer-Encoding: 8bit\r\n\r\nl\xe9ger\r\n", "léger\n"},
    /* format=flowed (RFC 3676 4.2): soft breaks are undone, a signature's mark is not one */
    {"Content-Type: text/plain; format=flowed\r\n\r\nI could not \r\nfeel my foot\r\n"
     " >not quoted\r\n-- \r\nAda\r\n",
     "I could not feel my foot\n>not quoted\n-- \nAda\n"},
    /* HTML only, as phones write, with what it quotes */
    {"Content-Type: text/html; charset=utf-8\r\n\r\n"
     "<html><head><style>p {color: red}</style><title>no</title></head><body><p>Done &amp; "
     "it&#39;s a&nbsp;4</p><div>No <b>pain</b></div><br>On Monday &lt;sessions@clinic.example&gt; "
     "wrote:<blockquote><p>Dear Ada</p><p>it is time</p></blockquote></body></html>\r\n",
     "Done & it's a 4\nNo pain\n> On Monday <sessions@clinic.example> wrote:\n> Dear Ada\n"
     "> it is time\n"},
    /* both: plain is taken */
    {"Content-Type: multipart/alternative; boundary=b\r\n\r\n--b\r\nContent-Type: "
     "text/plain\r\n\r\n"
     "plain words\r\n--b\r\nContent-Type: text/html\r\n\r\n<p>other words</p>\r\n--b--\r\n",
     "plain words\n"},
    /* both, and the plain one is empty */
    {"Content-Type: multipart/alternative; boundary=b\r\n\r\n--b\r\nContent-Type: "
     "text/plain\r\n\r\n"
     " \r\n--b\r\nContent-Type: text/html\r\n\r\n<p>I fell</p>\r\n--b--\r\n",
     "I fell\n"},
    /* words before and behind a picture that belongs to the looks */
    {"Content-Type: multipart/related; boundary=b\r\n\r\n--b\r\nContent-Type: text/plain\r\n\r\n"
     "before\r\n--b\r\nContent-Type: image/png\r\nContent-ID: <x>\r\n\r\nxx\r\n--b\r\n"
     "Content-Type: text/plain\r\n\r\nbehind\r\n--b--\r\n",
     "before\n\nbehind\n"},
    /* a quotation's introduction over two lines */
    {"Content-Type: text/plain\r\n\r\nDone\r\n\r\nOn Mon, 2 Mar 2026 at 08:30, Clinic <\r\n"
     "sessions@clinic.example> wrote:\r\n> it is time\r\n",
     "Done\n\n> On Mon, 2 Mar 2026 at 08:30, Clinic <\n> sessions@clinic.example> wrote:\n"
     "> it is time\n"},
    /* the line before it is the sender's own, and stays */
    {"Content-Type: text/plain\r\n\r\nI fell at 9\r\nClinic <sessions@clinic.example> wrote:\r\n"
     "> it is time\r\n",
     "I fell at 9\n> Clinic <sessions@clinic.example> wrote:\n> it is time\n"},
    {"Content-Type: text/plain\r\n\r\nwrite to me <ada@home.example>\r\nthis is how it feels:\r\n"
     "> it is time\r\n",
     "write to me <ada@home.example>\nthis is how it feels:\n> it is time\n"},
    /* nothing is quoted behind it: it is the sender's own */
    {"Content-Type: text/plain\r\n\r\nthe doctor <doc@clinic.example> says:\r\nrest\r\n",
     "the doctor <doc@clinic.example> says:\nrest\n"},
};

static void text_of_many_programs(void **state)
{
    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(PARTS); i++) {
        g_autofree char *mail = g_strconcat(HEAD "MIME-Version: 1.0\r\n", PARTS[i].parts, NULL);
        g_autoptr(MailIn) in = read_text(mail);
        assert_string_equal(in->incoming->text, PARTS[i].text);
        assert_null(in->incoming->problem);
    }
}

static void html_that_no_browser_would_like(void **state)
{
    static const char *const cases[][2] = {
        {"5 < 6 and a<b", "5 < 6 and a\n"}, /* "<b" to the end is no tag, but may be one */
        {"<p title='a>b'>seen</p>", "seen\n"},
        {"<!-- not seen <p>nor this</p> -->seen", "seen\n"},
        {"<!-- never closed <p>seen</p>", "<!-- never closed\nseen\n"},
        {"<style>never closed <p>I fell</p>", "never closed\nI fell\n"},
        {"&bogus; &amp &#0; &#x41; &#1114112;", "&bogus; &amp \xef\xbf\xbd A \xef\xbf\xbd\n"},
        {"</blockquote></blockquote>seen", "seen\n"},
        {"<pre>one\ntwo</pre>", "one\ntwo\n"},
        {"<td>4</td><td>0</td>", "4 0\n"},
        {"", ""}};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *text = mail_html_text(cases[i][0]);
        if (i == 0)
            assert_true(g_str_has_prefix(text, "5 < 6 and a"));
        else
            assert_string_equal(text, cases[i][1]);
    }
}

/* A person must look; the words are read all the same. */
static void what_came_with_it_is_told(void **state)
{
    static const struct {
        const char *parts;
        const char *problem;
    } cases[] = {
        {"Content-Type: multipart/mixed; boundary=b\r\n\r\n--b\r\nContent-Type: text/plain\r\n\r\n"
         "I fell\r\n--b\r\nContent-Type: image/jpeg\r\nContent-Disposition: inline\r\n\r\nxx\r\n"
         "--b--\r\n",
         "a picture or a file came with it"},
        {"Content-Type: multipart/mixed; boundary=b\r\n\r\n--b\r\nContent-Type: text/plain\r\n\r\n"
         "I fell\r\n--b\r\nContent-Type: message/rfc822\r\n\r\nSubject: x\r\n\r\ny\r\n--b--\r\n",
         "another mail came with it"},
        {"Content-Type: multipart/mixed; boundary=b\r\n\r\n--b\r\nContent-Type: text/plain\r\n"
         "Content-Disposition: attachment; filename=a.txt\r\n\r\nzz\r\n--b\r\n"
         "Content-Type: text/plain\r\n\r\nI fell\r\n--b--\r\n",
         "a picture or a file came with it"}};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autofree char *mail = g_strconcat(HEAD, cases[i].parts, NULL);
        g_autoptr(MailIn) in = read_text(mail);
        assert_string_equal(in->incoming->text, "I fell\n");
        assert_true(g_str_has_prefix(in->incoming->problem, cases[i].problem));
    }
}

static void long_mail_goes_to_a_person(void **state)
{
    g_autofree char *endless = g_strnfill(100 * 1024, 'a');
    g_autofree char *mail = g_strconcat(TEXT "\r\nI fell\r\n", endless, NULL);
    g_autoptr(MailIn) in = read_text(mail);
    g_autoptr(GBytes) bytes = g_bytes_new(mail, 200);
    g_autoptr(MailIn) begun = mail_read(bytes, false);

    (void)state;
    assert_true(strlen(in->incoming->text) <= 64 * 1024);
    assert_true(g_str_has_prefix(in->incoming->text, "I fell\n"));
    assert_true(g_str_has_prefix(in->incoming->problem, "the mail is very long"));
    assert_true(g_str_has_prefix(begun->incoming->problem, "the mail is very large"));
}

/* RFC 3834 section 2 and 5; common practice for the rest. */
static void automatic_answers_are_known(void **state)
{
    static const char *const automatic[] = {
        "Auto-Submitted: auto-replied\r\n",
        "Auto-Submitted: auto-generated (vacation)\r\n",
        "Auto-Submitted: Auto-Replied; owner-email=\"x@y.example\"\r\n",
        "Precedence: bulk\r\n",
        "Precedence: auto_reply\r\n",
        "X-Autoreply: yes\r\n",
        "Return-Path: <>\r\n",
        "List-Id: <club.example>\r\n"};
    static const char *const written[] = {
        "", "Auto-Submitted: no\r\n", "Auto-Submitted: No (x)\r\n", "Precedence: first-class\r\n",
        "Return-Path: <ada@client.example>\r\n"};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(automatic); i++) {
        g_autofree char *mail = g_strconcat(automatic[i], TEXT, "\r\nI am away\r\n", NULL);
        g_autoptr(MailIn) in = read_text(mail);
        assert_true(in->incoming->automatic);
        assert_false(in->report);
    }
    for (size_t i = 0; i < G_N_ELEMENTS(written); i++) {
        g_autofree char *mail = g_strconcat(written[i], TEXT, "\r\nD\r\n", NULL);
        g_autoptr(MailIn) in = read_text(mail);
        assert_false(in->incoming->automatic);
    }
}

/* RFC 3464 appendix E.1 to E.3, shortened where nothing is read. */
static const char SIMPLE[] =
    "Date: Thu, 7 Jul 1994 17:16:05 -0400\r\n"
    "From: Mail Delivery Subsystem <MAILER-DAEMON@CS.UTK.EDU>\r\n"
    "Message-Id: <199407072116.RAA14128@CS.UTK.EDU>\r\n"
    "Subject: Returned mail: Cannot send message for 5 days\r\n"
    "To: <owner-info-mime@cs.utk.edu>\r\nMIME-Version: 1.0\r\n"
    "Content-Type: multipart/report; report-type=delivery-status;\r\n"
    "      boundary=\"RAA14128.773615765/CS.UTK.EDU\"\r\n\r\n"
    "--RAA14128.773615765/CS.UTK.EDU\r\n\r\n"
    "The original message was received at Sat, 2 Jul 1994 17:10:28 -0400\r\nfrom root@localhost\r\n"
    "\r\n   ----- The following addresses had delivery problems -----\r\n"
    "<louisl@larry.slip.umd.edu>  (unrecoverable error)\r\n\r\n"
    "--RAA14128.773615765/CS.UTK.EDU\r\ncontent-type: message/delivery-status\r\n\r\n"
    "Reporting-MTA: dns; cs.utk.edu\r\n\r\n"
    "Original-Recipient: rfc822;louisl@larry.slip.umd.edu\r\n"
    "Final-Recipient: rfc822;louisl@larry.slip.umd.edu\r\nAction: %s\r\nStatus: 4.0.0\r\n"
    "Diagnostic-Code: smtp; 426 connection timed out\r\n"
    "Last-Attempt-Date: Thu, 7 Jul 1994 17:15:49 -0400\r\n\r\n"
    "--RAA14128.773615765/CS.UTK.EDU\r\ncontent-type: %s\r\n\r\n"
    "From: sessions@clinic.example\r\nMessage-ID: <%s@clinic.example>\r\n\r\n"
    "[original message goes here]\r\n\r\n--RAA14128.773615765/CS.UTK.EDU--\r\n";

static void delivery_reports_become_fates(void **state)
{
    static const struct {
        const char *action, *enclosed, *id;
        int receipts;
        Fate fate;
    } cases[] = {{"failed", "message/rfc822", OWN, 1, FATE_FAILED},
                 {"Failed (no such user)", "text/rfc822-headers", OWN, 1, FATE_FAILED},
                 {"delivered", "text/rfc822-headers", OWN, 1, FATE_DELIVERED},
                 {"delayed", "message/rfc822", OWN, 0, FATE_WAITING},
                 {"relayed", "message/rfc822", OWN, 0, FATE_WAITING},
                 {"expanded", "message/rfc822", OWN, 0, FATE_WAITING},
                 {"failed", "message/rfc822", "not-one-of-ours", 0, FATE_WAITING}};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_auto(GStrv) parts = g_strsplit(SIMPLE, "%s", -1);
        g_autofree char *mail = g_strconcat(parts[0], cases[i].action, parts[1], cases[i].enclosed,
                                            parts[2], cases[i].id, parts[3], NULL);
        g_autoptr(MailIn) in = read_text(mail);
        assert_true(in->report);
        assert_true(in->incoming->automatic);
        assert_int_equal(in->receipts->len, cases[i].receipts);
        assert_int_equal(in->incoming->ref != NULL, strcmp(cases[i].id, OWN) == 0);
        if (cases[i].receipts == 0) continue;
        const Receipt *receipt = in->receipts->pdata[0];
        assert_string_equal(receipt->message, OWN);
        assert_int_equal(receipt->fate, cases[i].fate);
        assert_string_equal(receipt->reason,
                            "a mail server reports: 4.0.0: smtp; 426 connection timed out");
    }
}

/* RFC 3464 E.2: several recipients, a folded diagnostic. Ours have one; the first is read. */
static void report_of_several_recipients(void **state)
{
    g_autoptr(MailIn) in = read_text(
        "From: MAILER-DAEMON@mail.example\r\nContent-Type: multipart/report;\r\n boundary=b\r\n\r\n"
        "--b\r\nContent-Type: message/delivery-status\r\n\r\n"
        "Reporting-MTA: dns; cs.utk.edu\r\n\r\n"
        "Original-Recipient: rfc822;arathib@vnet.ibm.com\r\nFinal-Recipient: rfc822;"
        "arathib@vnet.ibm.com\r\nAction: failed\r\nStatus: 5.0.0 (permanent failure)\r\n"
        "Diagnostic-Code: smtp;\r\n 550 'arathib@vnet.IBM.COM' is not a\r\n registered gateway "
        "user\r\nRemote-MTA: dns; vnet.ibm.com\r\n\r\n"
        "Original-Recipient: rfc822;johnh@hpnjld.njd.hp.com\r\nFinal-Recipient: rfc822;"
        "johnh@hpnjld.njd.hp.com\r\nAction: delayed\r\nStatus: 4.0.0\r\n\r\n--b\r\n"
        "Content-Type: message/rfc822\r\n\r\nMessage-ID: <" OWN "@clinic.example>\r\n\r\nx\r\n"
        "--b--\r\n");

    (void)state;
    assert_int_equal(in->receipts->len, 1);
    const Receipt *receipt = in->receipts->pdata[0];
    assert_int_equal(receipt->fate, FATE_FAILED);
    assert_non_null(strstr(receipt->reason, "5.0.0 (permanent failure): smtp; 550"));
    assert_non_null(strstr(receipt->reason, "is not a registered gateway user"));
}

/* As some servers still write: words, and the headers of what came back. Whose it is is known; what became of it a person
 * must read. */
static void old_report_names_the_message_in_words(void **state)
{
    g_autoptr(MailIn) in =
        read_text("Return-Path: <>\r\nFrom: MAILER-DAEMON@mail.example\r\nSubject: failure notice"
                  "\r\n\r\nHi. I wasn't able to deliver your message.\r\n\r\n"
                  "--- Below this line is a copy of the message.\r\n\r\n"
                  "Message-ID: <" OWN "@clinic.example>\r\nSubject: x\r\n");

    (void)state;
    assert_true(in->report);
    assert_int_equal(in->receipts->len, 0);
    assert_string_equal(in->incoming->ref, OWN);
}

static void same_id_of_two_mails_is_two(void **state)
{
    g_autoptr(MailIn) one = read_text(TEXT "\r\nD\r\n");
    g_autoptr(MailIn) same = read_text("Received: twice\r\n" TEXT "\r\nD\r\n");
    g_autoptr(MailIn) other = read_text(TEXT "\r\nI fell\r\n");

    (void)state;
    assert_true(g_str_has_prefix(one->incoming->id, "m1@client.example#"));
    assert_string_equal(one->incoming->id, same->incoming->id);
    assert_string_not_equal(one->incoming->id, other->incoming->id);
}

/* Two people, or one twice, may write the same without a Message-ID; what tells them apart is what servers add. */
static void mails_without_an_id_are_told_apart(void **state)
{
    static const char mail[] = "From: ada@client.example\r\n\r\nthank you\r\n";
    g_autofree char *other = g_strconcat("Received: by mx.example id 2\r\n", mail, NULL);
    g_autoptr(MailIn) one = read_text(mail);
    g_autoptr(MailIn) same = read_text(mail);
    g_autoptr(MailIn) two = read_text(other);

    (void)state;
    assert_string_equal(one->incoming->id, same->incoming->id);
    assert_string_not_equal(one->incoming->id, two->incoming->id);
}

static void bytes_that_are_no_mail_are_survived(void **state)
{
    (void)state;
    static const char odd[] = "\0\0From: a\0b\xff\r\n\r\n\xff\xfe\0";
    g_autoptr(MailIn) in = read_bytes(odd, sizeof odd);
    assert_non_null(in->incoming->problem);
    g_autoptr(MailIn) empty = read_bytes("", 0);
    assert_non_null(empty->incoming->problem);
}

/* Every beginning of a mail, and every mail with one byte turned, is read into valid UTF-8. */
static void every_cut_and_every_turned_byte(void **state)
{
    static const char mail[] =
        HEAD "In-Reply-To: <" OWN "@clinic.example>\r\n"
             "Content-Type: multipart/mixed; boundary=\"b\"\r\n\r\n--b\r\n"
             "Content-Type: text/plain; charset=iso-8859-1; format=flowed\r\n"
             "Content-Transfer-Encoding: quoted-printable\r\n\r\nFait =E9 \r\n--b\r\n"
             "Content-Type: text/html; charset=utf-8\r\nContent-Transfer-Encoding: base64\r\n\r\n"
             "PHA+SSBmZWxsPC9wPg==\r\n--b--\r\n";

    (void)state;
    for (size_t i = 0; i < sizeof mail; i++) {
        g_autofree char *copy = g_memdup2(mail, sizeof mail);
        g_autoptr(MailIn) cut = read_bytes(mail, i);
        copy[i] = (char)(copy[i] ^ (1 << i % 8));
        g_autoptr(MailIn) turned = read_bytes(copy, sizeof mail - 1);
        const MailIn *both[] = {cut, turned};
        for (int k = 0; k < 2; k++) {
            const char *text = both[k]->incoming->text;
            assert_true(text == NULL || g_utf8_validate(text, -1, NULL));
            assert_true(g_utf8_validate(both[k]->incoming->id, -1, NULL));
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(plain_answer_is_read),
        cmocka_unit_test(what_is_answered),
        cmocka_unit_test(text_of_many_programs),
        cmocka_unit_test(html_that_no_browser_would_like),
        cmocka_unit_test(what_came_with_it_is_told),
        cmocka_unit_test(long_mail_goes_to_a_person),
        cmocka_unit_test(automatic_answers_are_known),
        cmocka_unit_test(delivery_reports_become_fates),
        cmocka_unit_test(report_of_several_recipients),
        cmocka_unit_test(old_report_names_the_message_in_words),
        cmocka_unit_test(same_id_of_two_mails_is_two),
        cmocka_unit_test(mails_without_an_id_are_told_apart),
        cmocka_unit_test(bytes_that_are_no_mail_are_survived),
        cmocka_unit_test(every_cut_and_every_turned_byte),
    };
    mail_start();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
