/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/mail/compose.h"

#include <gmime/gmime.h>
#include <string.h>

#include "adapters/mail/images.h"
#include "core/clinic/address.h"

enum { SHORT_LINE = 78, ID_MAX = 250 };

void mail_start(void)
{
    g_mime_init();
}

/* One line: what could end a header becomes a space. */
static char *one_line(const char *text)
{
    char *line = g_utf8_make_valid(text != NULL ? text : "", -1);

    for (char *at = line; *at != '\0'; at++)
        if ((unsigned char)*at < ' ' || *at == 0x7f) *at = ' ';
    return line;
}

/* Lines that end in LF and no other way. */
static char *unix_lines(const char *text)
{
    GString *lines = g_string_new(NULL);

    for (; *text != '\0'; text++) {
        if (*text != '\r')
            g_string_append_c(lines, *text);
        else if (text[1] != '\n')
            g_string_append_c(lines, '\n');
    }
    if (lines->len > 0 && lines->str[lines->len - 1] != '\n') g_string_append_c(lines, '\n');
    return g_string_free(lines, FALSE);
}

/* May the text travel as it is? */
static bool is_plain(const char *text)
{
    int column = 0;

    for (; *text != '\0'; text++) {
        column = *text == '\n' ? 0 : column + 1;
        if ((unsigned char)*text >= 0x80 || column > SHORT_LINE) return false;
    }
    return true;
}

static GMimePart *part_new(const char *subtype, const char *text)
{
    g_autofree char *lines = unix_lines(text);
    GMimePart *part = g_mime_part_new_with_type("text", subtype);
    GMimeStream *stream = g_mime_stream_mem_new_with_buffer(lines, strlen(lines));
    GMimeDataWrapper *content =
        g_mime_data_wrapper_new_with_stream(stream, GMIME_CONTENT_ENCODING_DEFAULT);

    g_mime_object_set_content_type_parameter(GMIME_OBJECT(part), "charset", "utf-8");
    g_mime_part_set_content(part, content);
    g_mime_part_set_content_encoding(part, is_plain(lines)
                                               ? GMIME_CONTENT_ENCODING_7BIT
                                               : GMIME_CONTENT_ENCODING_QUOTEDPRINTABLE);
    g_object_unref(content);
    g_object_unref(stream);
    return part;
}

static void unref(void *part)
{
    g_object_unref(part);
}

/* The page, with its pictures beside it where it has any. */
static GMimeObject *page_new(const Outgoing *message)
{
    g_autoptr(GPtrArray) images = g_ptr_array_new_with_free_func(unref);
    g_autofree char *html = images_take(message->html, message->id, images);
    GMimePart *page = part_new("html", html);

    if (images->len == 0) return GMIME_OBJECT(page);
    GMimeMultipart *related = g_mime_multipart_new_with_subtype("related");
    g_autofree char *boundary = g_strdup_printf("=_%s_page", message->id);
    g_mime_multipart_set_boundary(related, boundary);
    g_mime_object_set_content_type_parameter(GMIME_OBJECT(related), "type", "text/html");
    g_mime_multipart_add(related, GMIME_OBJECT(page));
    for (guint i = 0; i < images->len; i++)
        g_mime_multipart_add(related, images->pdata[i]);
    g_object_unref(page);
    return GMIME_OBJECT(related);
}

static GMimeObject *text_new(const Outgoing *message)
{
    GMimePart *plain = part_new("plain", message->text);

    if (message->html == NULL) return GMIME_OBJECT(plain);
    GMimeObject *html = page_new(message);
    GMimeMultipart *both = g_mime_multipart_new_with_subtype("alternative");
    g_autofree char *boundary = g_strdup_printf("=_%s_osier", message->id);
    g_mime_multipart_set_boundary(both, boundary);
    g_mime_multipart_add(both, GMIME_OBJECT(plain));
    g_mime_multipart_add(both, html);
    g_object_unref(plain);
    g_object_unref(html);
    return GMIME_OBJECT(both);
}

/* The text, and the calendar file after it where there is one. */
static GMimeObject *body_new(const Outgoing *message)
{
    GMimeObject *text = text_new(message);

    if (message->calendar == NULL) return text;
    GMimeMultipart *mixed = g_mime_multipart_new_with_subtype("mixed");
    GMimePart *file = part_new("calendar", message->calendar);
    g_autofree char *boundary = g_strdup_printf("=_%s_mixed", message->id);
    g_mime_part_set_filename(file, "sessions.ics"); /* and so an attachment */
    g_mime_multipart_set_boundary(mixed, boundary);
    g_mime_multipart_add(mixed, text);
    g_mime_multipart_add(mixed, GMIME_OBJECT(file));
    g_object_unref(text);
    g_object_unref(file);
    return GMIME_OBJECT(mixed);
}

static void set_header(GMimeMessage *mail, const char *name, const char *value)
{
    g_mime_object_set_header(GMIME_OBJECT(mail), name, value, NULL);
}

/* What the message answers, as "<left@right>"; NULL where that is no id that a header should
 * repeat. */
static char *answered_id(const char *id)
{
    g_autofree char *bare = g_strstrip(g_strdup(id != NULL ? id : ""));
    size_t length = strlen(bare);

    if (length > 2 && bare[0] == '<' && bare[length - 1] == '>') {
        memmove(bare, bare + 1, length - 2);
        bare[length -= 2] = '\0';
    }
    if (length == 0 || length > ID_MAX || strchr(bare, '@') == NULL) return NULL;
    for (const char *at = bare; *at != '\0'; at++)
        if (!g_ascii_isgraph(*at) || strchr("<>\"(),;\\", *at) != NULL) return NULL;
    return g_strdup_printf("<%s>", bare);
}

static void set_answer(GMimeMessage *mail, const Outgoing *message)
{
    g_autofree char *answered = answered_id(message->in_reply_to);

    if (answered != NULL) {
        set_header(mail, "In-Reply-To", answered);
        set_header(mail, "References", answered);
    }
    set_header(mail, "Auto-Submitted", answered != NULL ? "auto-replied" : "auto-generated");
}

/* A value that stays as it is: GMime would fold one without spaces in its midst, and a link with a break in it leads nowhere. */
static void set_raw_header(GMimeMessage *mail, const char *name, const char *value)
{
    GMimeHeaderList *headers = g_mime_object_get_header_list(GMIME_OBJECT(mail));
    g_autofree char *raw = g_strdup_printf(" %s\n", value);

    set_header(mail, name, "");
    g_mime_header_set_raw_value(g_mime_header_list_get_header(headers, name), raw);
}

/* By mail, and where there is a link by one click as well, which stands first (RFC 8058 section 3.1). */
static void set_unsubscribe(GMimeMessage *mail, const char *address, const char *link)
{
    g_autofree char *escaped = g_uri_escape_string(address, "@", FALSE);
    g_autofree char *by_mail = g_strdup_printf("<mailto:%s?subject=STOP&body=STOP>", escaped);
    g_autofree char *both = link != NULL ? g_strdup_printf("<%s>,\n %s", link, by_mail) : NULL;

    set_raw_header(mail, "List-Unsubscribe", both != NULL ? both : by_mail);
    if (link != NULL) set_header(mail, "List-Unsubscribe-Post", "List-Unsubscribe=One-Click");
}

static void set_head(GMimeMessage *mail, const char *from, const char *address,
                     const Outgoing *message)
{
    g_autoptr(GDateTime) date = g_date_time_new_from_unix_utc(message->at_ms / 1000);
    g_autofree char *subject = one_line(message->subject);
    g_autofree char *id = g_strdup_printf("%s%s", message->id, strchr(address, '@'));
    g_autofree char *sender = one_line(from);
    char *open = strchr(sender, '<');

    if (open != NULL) *open = '\0';
    g_strstrip(sender);
    g_mime_message_add_mailbox(mail, GMIME_ADDRESS_TYPE_FROM,
                               open != NULL && *sender != '\0' ? sender : NULL, address);
    g_mime_message_add_mailbox(mail, GMIME_ADDRESS_TYPE_TO, NULL, message->to);
    g_mime_message_set_subject(mail, subject, "utf-8");
    g_mime_message_set_date(mail, date);
    g_mime_message_set_message_id(mail, id);
}

/* The message as bytes, every line ended by CRLF. */
static GBytes *written(GMimeMessage *mail)
{
    GMimeStream *memory = g_mime_stream_mem_new();
    GMimeStream *filtered = g_mime_stream_filter_new(memory);
    GMimeFilter *filter = g_mime_filter_unix2dos_new(TRUE);
    GByteArray *bytes = g_byte_array_new();

    g_mime_stream_mem_set_byte_array(GMIME_STREAM_MEM(memory), bytes);
    g_mime_stream_mem_set_owner(GMIME_STREAM_MEM(memory), FALSE);
    g_mime_stream_filter_add(GMIME_STREAM_FILTER(filtered), filter);
    g_mime_object_write_to_stream(GMIME_OBJECT(mail), NULL, filtered);
    g_mime_stream_flush(filtered);
    g_object_unref(filter);
    g_object_unref(filtered);
    g_object_unref(memory);
    return g_byte_array_free_to_bytes(bytes);
}

static char *refusal(const char *which, const char *text, const char *reason)
{
    return g_strdup_printf("%s: %s: %s", which, text,
                           reason != NULL ? reason : "is no mail address");
}

GBytes *mail_compose(const char *from, const Outgoing *message, bool to_client, char **why)
{
    const char *reason = NULL;
    g_autofree char *address = from != NULL ? mail_address_of(from, &reason) : NULL;

    if (address == NULL) {
        *why = refusal("from", from != NULL ? from : "", reason);
        return NULL;
    }
    if (message->to == NULL || !mail_address_valid(message->to, &reason)) {
        *why = refusal("to", message->to != NULL ? message->to : "", reason);
        return NULL;
    }
    GMimeMessage *mail = g_mime_message_new(FALSE);
    GMimeObject *body = body_new(message);
    set_head(mail, from, address, message);
    set_answer(mail, message);
    if (to_client) set_unsubscribe(mail, address, message->unsubscribe);
    g_mime_message_set_mime_part(mail, body);
    GBytes *bytes = written(mail);
    g_object_unref(body);
    g_object_unref(mail);
    return bytes;
}
