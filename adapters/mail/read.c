/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/mail/read.h"

#include <gmime/gmime.h>
#include <string.h>

#include "adapters/mail/body.h"
#include "adapters/mail/bounds.h"
#include "adapters/mail/report.h"
#include "core/clinic/address.h"

/* More than a person writes: of the text, of what the reader reads, of a subject. */
enum {
    TEXT_MAX = 64 * 1024,
    READ_MAX = 16 * 1024,
    SUBJECT_MAX = 300,
    ID_MAX = 300,
    RAW_MAX = 4096
};

void mail_in_free(MailIn *in)
{
    if (in == NULL) return;
    incoming_free(in->incoming);
    g_ptr_array_unref(in->receipts);
    g_free(in);
}

/* --- headers -------------------------------------------------------------------------------- */

static const char *header(GMimeMessage *mail, const char *name)
{
    return g_mime_object_get_header(GMIME_OBJECT(mail), name);
}

/* The first mailbox that can be an address, in lower case as far as ASCII goes. */
static char *address_in(InternetAddressList *list)
{
    for (int i = 0; list != NULL && i < internet_address_list_length(list); i++) {
        InternetAddress *address = internet_address_list_get_address(list, i);
        const char *text =
            INTERNET_ADDRESS_IS_MAILBOX(address)
                ? internet_address_mailbox_get_addr(INTERNET_ADDRESS_MAILBOX(address))
                : NULL;
        if (text != NULL && mail_address_valid(text, NULL)) return g_strdup(text);
    }
    return NULL;
}

static char *sender_of(GMimeMessage *mail)
{
    char *from = address_in(g_mime_message_get_from(mail));

    return from != NULL ? from : address_in(g_mime_message_get_sender(mail));
}

static char *subject_of(GMimeMessage *mail)
{
    const char *subject = g_mime_message_get_subject(mail);
    g_autofree char *valid = subject != NULL ? g_utf8_make_valid(subject, -1) : NULL;

    if (valid == NULL) return NULL;
    char *cut = g_utf8_substring(valid, 0, MIN(g_utf8_strlen(valid, -1), SUBJECT_MAX));
    for (char *at = cut; *at != '\0'; at++)
        if (g_ascii_iscntrl(*at)) *at = ' ';
    return g_strstrip(cut);
}

/* The id of a message of ours among the ids of a header, the last first. */
static char *own_id_among(const char *ids)
{
    g_auto(GStrv) parts = g_strsplit(ids != NULL ? ids : "", "<", -1);
    char *own = NULL;

    for (guint i = g_strv_length(parts); i > 1 && own == NULL; i--)
        own = mail_own_id(parts[i - 1]);
    return own;
}

static char *answered(GMimeMessage *mail)
{
    char *own = own_id_among(header(mail, "In-Reply-To"));

    return own != NULL ? own : own_id_among(header(mail, "References"));
}

static int64_t written_at(GMimeMessage *mail)
{
    GDateTime *date = header(mail, "Date") != NULL ? g_mime_message_get_date(mail) : NULL;

    return date != NULL ? MAX(-1, g_date_time_to_unix(date) * 1000) : -1;
}

/* --- text ----------------------------------------------------------------------------------- */

/* Bytes that the sender wrote, as far as that is certain. */
static gsize own_bytes(const char *text)
{
    gsize own = 0;

    while (*text != '\0') {
        gsize line = strcspn(text, "\n");
        if (text[strspn(text, " \t")] != '>') own += line + 1;
        text += line + (text[line] == '\n');
    }
    return own;
}

static void cut_text(GString *text, gsize most)
{
    if (text->len <= most) return;
    const char *end = g_utf8_find_prev_char(text->str, text->str + most + 1);
    g_string_truncate(text, end != NULL ? (gsize)(end - text->str) : 0);
}

static const char *problem_of(const Incoming *incoming, const MailBody *body, const MailCut *cut,
                              bool whole)
{
    if (incoming->from == NULL) return "the mail names no sender";
    if (!whole) return "the mail is very large: this is its beginning";
    if (body->too_many || cut->parts) return "the mail has more parts than can be looked at";
    if (cut->fields) return "the mail has more or longer headers than can be looked at";
    if (body->too_long || body->text->len > TEXT_MAX || own_bytes(body->text->str) > READ_MAX)
        return "the mail is very long: a person must read it";
    if (body->undecodable) return "some of the mail could not be decoded";
    if (body->enclosed) return "another mail came with it, which osier does not read";
    if (body->attached) return "a picture or a file came with it, which osier does not read";
    return NULL;
}

/* One without a Message-ID is known by all its bytes: its way here, told in the fields that servers add, is its own. */
static char *id_of_bytes(GBytes *bytes, const char *what)
{
    g_autofree char *sum = g_compute_checksum_for_bytes(G_CHECKSUM_SHA256, bytes);

    return g_strconcat(what, "#", sum, NULL);
}

static char *id_of_mail(GMimeMessage *mail, GBytes *bytes, const Incoming *incoming)
{
    const char *id = g_mime_message_get_message_id(mail);
    if (id == NULL || *id == '\0') return id_of_bytes(bytes, "no id");
    g_autofree char *valid = g_utf8_make_valid(id, -1);
    g_autofree char *cut = g_utf8_substring(valid, 0, MIN(g_utf8_strlen(valid, -1), ID_MAX));
    g_autofree char *at = g_strdup_printf("%" G_GINT64_FORMAT, incoming->at_ms);
    g_autofree char *all =
        g_strjoin("\n", incoming->from != NULL ? incoming->from : "", at,
                  incoming->subject != NULL ? incoming->subject : "", incoming->text, NULL);
    g_autofree char *sum = g_compute_checksum_for_string(G_CHECKSUM_SHA256, all, -1);

    sum[16] = '\0';
    return g_strconcat(cut, "#", sum, NULL);
}

/* A report is about what it returns, whatever it says that it answers. */
static void take_report(GMimeMessage *mail, MailIn *in)
{
    char *own = mail_read_report(mail, in->receipts);

    if (own == NULL) return;
    g_free(in->incoming->ref);
    in->incoming->ref = own;
}

static void read_mail(GMimeMessage *mail, GBytes *bytes, const MailCut *cut, bool whole, MailIn *in)
{
    Incoming *incoming = in->incoming;
    MailBody body;

    mail_body_read(g_mime_message_get_mime_part(mail), &body);
    incoming->from = sender_of(mail);
    incoming->subject = subject_of(mail);
    incoming->ref = answered(mail);
    incoming->at_ms = written_at(mail);
    incoming->automatic = mail_is_automatic(mail);
    incoming->problem = g_strdup(problem_of(incoming, &body, cut, whole));
    cut_text(body.text, TEXT_MAX);
    incoming->text = g_strdup(body.text->str);
    incoming->id = id_of_mail(mail, bytes, incoming);
    in->report = mail_is_report(mail);
    if (in->report) take_report(mail, in);
    mail_body_clear(&body);
}

/* --- all ------------------------------------------------------------------------------------ */

static GMimeMessage *parse(GBytes *bytes)
{
    gsize length;
    const char *data = g_bytes_get_data(bytes, &length);
    GMimeStream *stream = g_mime_stream_mem_new_with_buffer(data != NULL ? data : "", length);
    GMimeParser *parser = g_mime_parser_new_with_stream(stream);
    GMimeMessage *mail = g_mime_parser_construct_message(parser, NULL);

    g_object_unref(parser);
    g_object_unref(stream);
    return mail;
}

/* Not even headers: its beginning is kept as it came. */
static void keep_raw(GBytes *bytes, Incoming *incoming)
{
    gsize length;
    const char *data = g_bytes_get_data(bytes, &length);

    incoming->at_ms = -1;
    incoming->id = id_of_bytes(bytes, "no mail");
    incoming->raw = g_utf8_make_valid(data != NULL ? data : "", (gssize)MIN(length, RAW_MAX));
    incoming->problem = g_strdup("it cannot be read as mail");
}

MailIn *mail_read(GBytes *bytes, bool whole)
{
    MailIn *in = g_new0(MailIn, 1);

    in->incoming = g_new0(Incoming, 1);
    in->receipts = g_ptr_array_new_with_free_func((GDestroyNotify)receipt_free);
    MailCut cut;
    g_autoptr(GBytes) bounded = mail_bounded(bytes, &cut);
    GMimeMessage *mail = parse(bounded);
    if (mail == NULL) {
        keep_raw(bytes, in->incoming);
        return in;
    }
    read_mail(mail, bytes, &cut, whole, in);
    g_object_unref(mail);
    return in;
}
