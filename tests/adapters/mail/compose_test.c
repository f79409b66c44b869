/* SPDX-License-Identifier: Apache-2.0 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>
#include <gmime/gmime.h>

#include "adapters/mail/body.h"
#include "adapters/mail/compose.h"
#include "adapters/mail/images.h"
#include "tests/support/gateways.h"

#define FROM "Saltmarsh Lane, Physiothérapie <sessions@clinic.example>"

static Outgoing message(const char *text)
{
    return (Outgoing){.id = "00112233445566778899aabbccddeeff",
                      .to = "ada@client.example",
                      .subject = "Today's session",
                      .text = text,
                      .at_ms = INT64_C(1774857600000)};
}

/* Composes and parses back. */
static GMimeMessage *back(const Outgoing *outgoing, bool to_client)
{
    g_autofree char *why = NULL;
    g_autoptr(GBytes) bytes = mail_compose(FROM, outgoing, to_client, &why);
    size_t length;

    assert_non_null(bytes);
    const char *data = g_bytes_get_data(bytes, &length);
    GMimeStream *stream = g_mime_stream_mem_new_with_buffer(data, length);
    GMimeParser *parser = g_mime_parser_new_with_stream(stream);
    GMimeMessage *mail = g_mime_parser_construct_message(parser, NULL);
    g_object_unref(parser);
    g_object_unref(stream);
    assert_non_null(mail);
    return mail;
}

static const char *header(GMimeMessage *mail, const char *name)
{
    return g_mime_object_get_header(GMIME_OBJECT(mail), name);
}

/* The text of a part with its charset and encoding undone. */
static char *text_of(GMimeObject *part)
{
    GMimeDataWrapper *content = g_mime_part_get_content(GMIME_PART(part));
    GMimeStream *memory = g_mime_stream_mem_new();

    g_mime_data_wrapper_write_to_stream(content, memory);
    GByteArray *bytes = g_mime_stream_mem_get_byte_array(GMIME_STREAM_MEM(memory));
    g_autofree char *raw = g_strndup(bytes->len > 0 ? (const char *)bytes->data : "", bytes->len);
    g_object_unref(memory);
    g_auto(GStrv) lines = g_strsplit(raw, "\r\n", -1);
    return g_strjoinv("\n", lines);
}

static void a_plain_message_has_all_that_mail_needs(void **state)
{
    Outgoing outgoing = message("it is time for your stretches.\nAnswer D or N.");
    GMimeMessage *mail = back(&outgoing, true);
    InternetAddress *from = internet_address_list_get_address(g_mime_message_get_from(mail), 0);
    g_autofree char *text = text_of(g_mime_message_get_mime_part(mail));

    (void)state;
    assert_string_equal(internet_address_get_name(from), "Saltmarsh Lane, Physiothérapie");
    assert_string_equal(internet_address_mailbox_get_addr(INTERNET_ADDRESS_MAILBOX(from)),
                        "sessions@clinic.example");
    assert_int_equal(internet_address_list_length(g_mime_message_get_from(mail)), 1);
    assert_string_equal(header(mail, "To"), "ada@client.example");
    assert_string_equal(g_mime_message_get_subject(mail), "Today's session");
    assert_string_equal(header(mail, "Date"), "Mon, 30 Mar 2026 08:00:00 +0000");
    assert_string_equal(g_mime_message_get_message_id(mail),
                        "00112233445566778899aabbccddeeff@clinic.example");
    assert_string_equal(header(mail, "Auto-Submitted"), "auto-generated");
    assert_string_equal(header(mail, "MIME-Version"), "1.0");
    assert_string_equal(header(mail, "List-Unsubscribe"),
                        "<mailto:sessions@clinic.example?subject=STOP&body=STOP>");
    assert_null(header(mail, "In-Reply-To"));
    assert_string_equal(text, "it is time for your stretches.\nAnswer D or N.\n");
    g_object_unref(mail);
}

static void staff_get_no_unsubscribe_header(void **state)
{
    Outgoing outgoing = message("AN K7QF2M9T: pain 8 of 10.");
    GMimeMessage *mail = back(&outgoing, false);

    (void)state;
    assert_null(header(mail, "List-Unsubscribe"));
    g_object_unref(mail);
}

/* RFC 8058 section 3.1; a link of any length must come whole, for a space in it would end nothing. */
static void one_click_stands_before_the_mailto(void **state)
{
    g_autofree char *label = g_strnfill(60, 'h');
    g_autofree char *link =
        g_strdup_printf("https://%s.%s.%s.clinic.example/unsubscribe/email/K7QF2M9T/"
                        "00112233445566778899aabbccddeeff",
                        label, label, label);
    g_autofree char *expected =
        g_strdup_printf("<%s>, <mailto:sessions@clinic.example?subject=STOP&body=STOP>", link);
    Outgoing outgoing = message("it is time for your stretches.");

    (void)state;
    outgoing.unsubscribe = link;
    GMimeMessage *mail = back(&outgoing, true);
    g_autofree char *why = NULL;
    g_autoptr(GBytes) bytes = mail_compose(FROM, &outgoing, true, &why);
    assert_string_equal(header(mail, "List-Unsubscribe"), expected);
    assert_string_equal(header(mail, "List-Unsubscribe-Post"), "List-Unsubscribe=One-Click");
    assert_non_null(
        g_strstr_len(g_bytes_get_data(bytes, NULL), (gssize)g_bytes_get_size(bytes), link));
    g_object_unref(mail);
    mail = back(&outgoing, false);
    assert_null(header(mail, "List-Unsubscribe-Post"));
    g_object_unref(mail);
}

static void an_answer_names_what_it_answers(void **state)
{
    static const struct {
        const char *given;
        const char *written;
    } cases[] = {{"<abc.1@client.example>", "<abc.1@client.example>"},
                 {"abc.1@client.example", "<abc.1@client.example>"},
                 {"<a@b>\r\nBcc: other@client.example", NULL},
                 {"<a b@c>", NULL},
                 {"no-at", NULL},
                 {"", NULL}};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        Outgoing outgoing = message("thank you");
        outgoing.in_reply_to = cases[i].given;
        GMimeMessage *mail = back(&outgoing, true);
        if (cases[i].written != NULL)
            assert_string_equal(header(mail, "In-Reply-To"), cases[i].written);
        else
            assert_null(header(mail, "In-Reply-To"));
        assert_string_equal(header(mail, "Auto-Submitted"),
                            cases[i].written != NULL ? "auto-replied" : "auto-generated");
        assert_null(header(mail, "Bcc"));
        g_object_unref(mail);
    }
}

static void a_subject_of_any_script_comes_back_and_breaks_no_header(void **state)
{
    const char *const subjects[] = {
        "la séance d'aujourd'hui", "la sesión de hoy — ¿lista? 🙂",
        "日本語の件名がとても長いので折り返されるはずです。日本語の件名。"};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(subjects); i++) {
        Outgoing outgoing = message("x");
        outgoing.subject = subjects[i];
        GMimeMessage *mail = back(&outgoing, true);
        assert_string_equal(g_mime_message_get_subject(mail), subjects[i]);
        g_object_unref(mail);
    }
    Outgoing outgoing = message("x");
    outgoing.subject = "hello\r\nBcc: other@client.example\nX: \x01";
    GMimeMessage *mail = back(&outgoing, true);
    assert_null(header(mail, "Bcc"));
    assert_null(header(mail, "X"));
    g_object_unref(mail);
}

/* No bare CR or LF, no line over 998 bytes (RFC 5322 2.1.1), nothing but ASCII. */
static void check_wire(const Outgoing *outgoing)
{
    g_autofree char *why = NULL;
    g_autoptr(GBytes) bytes = mail_compose(FROM, outgoing, true, &why);
    size_t length, line = 0;
    const char *data = g_bytes_get_data(bytes, &length);

    for (size_t i = 0; i < length; i++, line++) {
        assert_true((unsigned char)data[i] < 0x80 && data[i] != '\0');
        if (data[i] == '\n') assert_true(i > 0 && data[i - 1] == '\r');
        if (data[i] == '\r') assert_true(i + 1 < length && data[i + 1] == '\n');
        if (data[i] == '\n') line = 0;
        assert_true(line <= 998);
    }
    assert_memory_equal(data + length - 2, "\r\n", 2);
}

static void texts_of_every_kind_travel_whole(void **state)
{
    g_autofree char *endless = g_strnfill(5000, 'a');
    const char *const texts[] = {"",
                                 "\n",
                                 ".\n..\n.",
                                 "From the clinic\nFrom me",
                                 "à è 🙂 ñ\n",
                                 "trailing space \nand tab\t\n",
                                 "= equals =20",
                                 endless,
                                 "one\n\n\n\nfour"};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(texts); i++) {
        Outgoing outgoing = message(texts[i]);
        check_wire(&outgoing);
        GMimeMessage *mail = back(&outgoing, true);
        g_autofree char *text = text_of(g_mime_message_get_mime_part(mail));
        bool ended = *texts[i] == '\0' || g_str_has_suffix(texts[i], "\n");
        g_autofree char *wanted = g_strconcat(texts[i], ended ? "" : "\n", NULL);
        assert_string_equal(text, wanted);
        g_object_unref(mail);
    }
}

static void line_ends_of_other_machines_become_one(void **state)
{
    Outgoing outgoing = message("one\r\ntwo\rthree\nfour\r\n");
    GMimeMessage *mail = back(&outgoing, true);
    g_autofree char *text = text_of(g_mime_message_get_mime_part(mail));

    (void)state;
    check_wire(&outgoing);
    assert_string_equal(text, "one\ntwo\nthree\nfour\n");
    g_object_unref(mail);
}

static void html_stands_beside_the_plain_text(void **state)
{
    Outgoing outgoing = message("plain: é");
    outgoing.html = "<p>rich: é</p>";
    GMimeMessage *mail = back(&outgoing, false);
    GMimeMultipart *both = GMIME_MULTIPART(g_mime_message_get_mime_part(mail));

    (void)state;
    check_wire(&outgoing);
    assert_int_equal(g_mime_multipart_get_count(both), 2);
    GMimeContentType *type = g_mime_object_get_content_type(GMIME_OBJECT(both));
    assert_true(g_mime_content_type_is_type(type, "multipart", "alternative"));
    for (int i = 0; i < 2; i++) {
        GMimeObject *part = g_mime_multipart_get_part(both, i);
        g_autofree char *text = text_of(part);
        assert_string_equal(text, i == 0 ? "plain: é\n" : "<p>rich: é</p>\n");
        assert_string_equal(g_mime_object_get_content_type_parameter(part, "charset"), "utf-8");
    }
    g_object_unref(mail);
}

/* RFC 2387: the page first, what it shows after it; RFC 2392: named by Content-ID. */
static void pictures_travel_beside_the_page(void **state)
{
    static const char PAGE[] = "<p><img alt=\"two\" src=\"data:image/png;base64,iVBORw0KGgo=\"></p>"
                               "<img src=\"data:image/png;base64,AAEC\">"
                               "<i>src=\"data:image/png;base64,&lt;</i>";
    Outgoing outgoing = message("plain");
    g_autofree char *why = NULL;

    (void)state;
    outgoing.html = PAGE;
    check_wire(&outgoing);
    GMimeMessage *mail = back(&outgoing, false);
    GMimeMultipart *both = GMIME_MULTIPART(g_mime_message_get_mime_part(mail));
    assert_int_equal(g_mime_multipart_get_count(both), 2);
    GMimeObject *related = g_mime_multipart_get_part(both, 1);
    assert_true(g_mime_content_type_is_type(g_mime_object_get_content_type(related), "multipart",
                                            "related"));
    assert_int_equal(g_mime_multipart_get_count(GMIME_MULTIPART(related)), 3);
    g_autofree char *page = text_of(g_mime_multipart_get_part(GMIME_MULTIPART(related), 0));
    for (int i = 1; i <= 2; i++) {
        GMimeObject *image = g_mime_multipart_get_part(GMIME_MULTIPART(related), i);
        g_autofree char *named =
            g_strdup_printf("src=\"cid:%s\"", g_mime_object_get_content_id(image));
        assert_true(
            g_mime_content_type_is_type(g_mime_object_get_content_type(image), "image", "png"));
        assert_non_null(strstr(page, named));
    }
    assert_non_null(strstr(page, "base64,&lt;"));
    g_object_unref(mail);
    g_autoptr(GBytes) bytes = mail_compose(FROM, &outgoing, false, &why);
    g_autofree char *again = mail_page(bytes);
    assert_string_equal(g_strchomp(again), PAGE);
}

/* RFC 5545 section 8.1: text/calendar, UTF-8. Other programs take it by its name. */
static void a_calendar_file_is_attached(void **state)
{
    static const char FILE_TEXT[] = "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nSUMMARY:s\xc3\xa9"
                                    "ance\r\nEND:VCALENDAR\r\n";
    Outgoing outgoing = message("your home programme begins.");
    (void)state;
    outgoing.calendar = FILE_TEXT;
    GMimeMessage *mail = back(&outgoing, true);
    GMimeMultipart *mixed = GMIME_MULTIPART(g_mime_message_get_mime_part(mail));
    GMimePart *file = GMIME_PART(g_mime_multipart_get_part(mixed, 1));
    bool undecodable = false;
    g_autofree char *text = text_of(g_mime_multipart_get_part(mixed, 0));
    g_autofree char *back_text = mail_part_text(file, &undecodable);

    assert_string_equal(text, "your home programme begins.\n");
    assert_int_equal(g_mime_multipart_get_count(mixed), 2);
    assert_true(g_mime_content_type_is_type(g_mime_object_get_content_type(GMIME_OBJECT(file)),
                                            "text", "calendar"));
    assert_string_equal(g_mime_part_get_filename(file), "sessions.ics");
    assert_string_equal(g_mime_object_get_disposition(GMIME_OBJECT(file)), "attachment");
    assert_string_equal(back_text, "BEGIN:VCALENDAR\nVERSION:2.0\nSUMMARY:s\xc3\xa9"
                                   "ance\nEND:VCALENDAR\n");
    g_object_unref(mail);
}

static void the_same_message_gives_the_same_bytes(void **state)
{
    Outgoing outgoing = message("plain: é");
    g_autofree char *why = NULL;

    (void)state;
    outgoing.html = "<p>rich</p>";
    g_autoptr(GBytes) one = mail_compose(FROM, &outgoing, true, &why);
    g_autoptr(GBytes) two = mail_compose(FROM, &outgoing, true, &why);
    assert_true(g_bytes_equal(one, two));
}

static void an_address_that_is_none_is_refused(void **state)
{
    const char *const addresses[] = {"",
                                     "ada",
                                     "ada@",
                                     "a b@client.example",
                                     "ada@client.example\r\nBcc: x@y.example",
                                     "ada@client.example, eve@client.example"};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(addresses); i++) {
        g_autofree char *why = NULL;
        Outgoing outgoing = message("x");
        outgoing.to = addresses[i];
        assert_null(mail_compose(FROM, &outgoing, true, &why));
        assert_true(g_str_has_prefix(why, "to: "));
    }
    g_autofree char *why = NULL;
    Outgoing outgoing = message("x");
    assert_null(mail_compose("Saltmarsh Lane", &outgoing, true, &why));
    assert_true(g_str_has_prefix(why, "from: "));
}

static void the_request_carries_the_envelope(void **state)
{
    g_autoptr(Clinic) clinic =
        clinic_with_gateway("{\"kind\":\"mail\",\"from\":\"Saltmarsh <sessions@clinic.example>\","
                            "\"smtp\":{\"url\":\"smtps://mail.example:465\",\"user\":\"sessions\","
                            "\"password\":\"{secret:mail.key}\"}}");
    Outgoing outgoing = message("x");
    g_autofree char *why = NULL;
    g_autoptr(WireRequest) request =
        mail_send_request(clinic_gateway(clinic, "texts"), &outgoing, true, "pass", &why);

    (void)state;
    assert_non_null(request);
    assert_int_equal(request->kind, EXCHANGE_SMTP);
    assert_string_equal(request->url, "smtps://mail.example:465");
    assert_string_equal(request->user, "sessions");
    assert_string_equal(request->password, "pass");
    assert_string_equal(request->mail_from, "sessions@clinic.example");
    assert_int_equal(request->mail_to->len, 1);
    assert_string_equal(g_ptr_array_index(request->mail_to, 0), "ada@client.example");
    assert_false(request->repeatable);
}

static void replies_of_the_server_settle_it(void **state)
{
    static const struct {
        WirePhase phase;
        long status;
        Fate fate;
    } cases[] = {
        {PHASE_ANSWERED, 250, FATE_ACCEPTED}, {PHASE_ANSWERED, 251, FATE_ACCEPTED},
        {PHASE_ANSWERED, 421, FATE_WAITING},  {PHASE_ANSWERED, 450, FATE_WAITING},
        {PHASE_ANSWERED, 452, FATE_WAITING},  {PHASE_ANSWERED, 550, FATE_REFUSED},
        {PHASE_ANSWERED, 554, FATE_REFUSED},  {PHASE_ANSWERED, 535, FATE_WAITING},
        {PHASE_ANSWERED, 354, FATE_WAITING},  {PHASE_ANSWERED, 0, FATE_WAITING},
        {PHASE_NEVER_LEFT, 0, FATE_WAITING},  {PHASE_UNSURE, 0, FATE_UNSURE},
        {PHASE_UNSURE, 250, FATE_UNSURE},
    };

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(cases); i++) {
        g_autoptr(WireResponse) response =
            wire_response_new(cases[i].phase, cases[i].status, "5.1.1 no such\r\nuser", "cut");
        Settlement settlement;
        mail_send_settle(response, &settlement);
        assert_string_equal(fate_name(settlement.fate), fate_name(cases[i].fate));
        assert_int_equal(settlement.retry_after_s, -1);
        if (cases[i].status == 550)
            assert_string_equal(settlement.reason, "SMTP 550: 5.1.1 no such  user");
        settlement_clear(&settlement);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_plain_message_has_all_that_mail_needs),
        cmocka_unit_test(staff_get_no_unsubscribe_header),
        cmocka_unit_test(one_click_stands_before_the_mailto),
        cmocka_unit_test(an_answer_names_what_it_answers),
        cmocka_unit_test(a_subject_of_any_script_comes_back_and_breaks_no_header),
        cmocka_unit_test(texts_of_every_kind_travel_whole),
        cmocka_unit_test(line_ends_of_other_machines_become_one),
        cmocka_unit_test(html_stands_beside_the_plain_text),
        cmocka_unit_test(pictures_travel_beside_the_page),
        cmocka_unit_test(a_calendar_file_is_attached),
        cmocka_unit_test(the_same_message_gives_the_same_bytes),
        cmocka_unit_test(an_address_that_is_none_is_refused),
        cmocka_unit_test(the_request_carries_the_envelope),
        cmocka_unit_test(replies_of_the_server_settle_it),
    };
    mail_start();
    int failed = cmocka_run_group_tests(tests, NULL, NULL);
    g_mime_shutdown();
    return failed;
}
