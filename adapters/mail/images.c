/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/mail/images.h"

#include <string.h>

#include "adapters/mail/parts.h"

#define OPENING "src=\"data:image/png;base64,"
#define DATA "data:image/png;base64,"

static GMimePart *part_new(const char *base64, gsize length, const char *content_id)
{
    g_autofree char *text = g_strndup(base64, length);
    gsize size;
    g_autofree guchar *bytes = g_base64_decode(text, &size);
    GMimePart *part = g_mime_part_new_with_type("image", "png");
    GMimeStream *stream = g_mime_stream_mem_new_with_buffer((const char *)bytes, size);
    GMimeDataWrapper *content =
        g_mime_data_wrapper_new_with_stream(stream, GMIME_CONTENT_ENCODING_DEFAULT);

    g_mime_part_set_content(part, content);
    g_mime_part_set_content_encoding(part, GMIME_CONTENT_ENCODING_BASE64);
    g_mime_object_set_content_id(GMIME_OBJECT(part), content_id);
    g_mime_object_set_disposition(GMIME_OBJECT(part), "inline");
    g_object_unref(content);
    g_object_unref(stream);
    return part;
}

char *images_take(const char *html, const char *id, GPtrArray *parts)
{
    GString *page = g_string_sized_new(strlen(html));
    const char *found;

    while ((found = strstr(html, OPENING)) != NULL) {
        const char *base64 = found + strlen(OPENING);
        size_t length = strspn(base64, "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz"
                                       "0123456789+/=");
        g_string_append_len(page, html, found - html);
        html = base64 + length;
        if (*html != '"') {
            g_string_append_len(page, found, html - found);
            continue;
        }
        g_autofree char *content_id = g_strdup_printf("%u.%s", parts->len + 1, id);
        g_ptr_array_add(parts, part_new(base64, length, content_id));
        g_string_append_printf(page, "src=\"cid:%s", content_id);
    }
    g_string_append(page, html);
    return g_string_free(page, FALSE);
}

/* --- and back ------------------------------------------------------------------------------------- */

static char *base64_of(GMimePart *part)
{
    GMimeStream *memory = g_mime_stream_mem_new();
    GMimeDataWrapper *content = g_mime_part_get_content(part);

    if (content != NULL) g_mime_data_wrapper_write_to_stream(content, memory);
    GByteArray *bytes = g_mime_stream_mem_get_byte_array(GMIME_STREAM_MEM(memory));
    char *text = g_base64_encode(bytes->data, bytes->len);
    g_object_unref(memory);
    return text;
}

static void put_back(GMimeObject *parent, GMimeObject *object, gpointer context)
{
    GString *page = context;
    const char *content_id = g_mime_object_get_content_id(object);

    (void)parent;
    if (content_id == NULL || !GMIME_IS_PART(object)) return;
    g_autofree char *named = g_strdup_printf("src=\"cid:%s\"", content_id);
    g_autofree char *base64 = base64_of(GMIME_PART(object));
    g_autofree char *source = g_strdup_printf("src=\"" DATA "%s\"", base64);
    g_string_replace(page, named, source, 0);
}

char *mail_page(GBytes *mail)
{
    g_autofree char *html = mail_part(mail, "html");
    gsize length;
    const char *bytes = g_bytes_get_data(mail, &length);

    if (html == NULL) return NULL;
    GMimeStream *stream = g_mime_stream_mem_new_with_buffer(bytes, length);
    GMimeParser *parser = g_mime_parser_new_with_stream(stream);
    GMimeMessage *message = g_mime_parser_construct_message(parser, NULL);
    GString *page = g_string_new(html);
    if (message != NULL) {
        g_mime_message_foreach(message, put_back, page);
        g_object_unref(message);
    }
    g_object_unref(parser);
    g_object_unref(stream);
    return g_string_free(page, FALSE);
}
