/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/mail/parts.h"

#include <gmime/gmime.h>
#include <string.h>

static GMimeMessage *parse(GBytes *mail)
{
    gsize length;
    const char *bytes = g_bytes_get_data(mail, &length);
    GMimeStream *stream = g_mime_stream_mem_new_with_buffer(bytes, length);
    GMimeParser *parser = g_mime_parser_new_with_stream(stream);
    GMimeMessage *message = g_mime_parser_construct_message(parser, NULL);

    g_object_unref(parser);
    g_object_unref(stream);
    return message;
}

typedef struct {
    const char *subtype;
    char *text;
} Search;

static void look(GMimeObject *parent, GMimeObject *part, gpointer context)
{
    Search *search = context;
    GMimeContentType *type = g_mime_object_get_content_type(part);

    (void)parent;
    if (search->text == NULL && GMIME_IS_TEXT_PART(part) &&
        g_mime_content_type_is_type(type, "text", search->subtype))
        search->text = g_mime_text_part_get_text(GMIME_TEXT_PART(part));
}

char *mail_part(GBytes *mail, const char *subtype)
{
    GMimeMessage *message = parse(mail);
    Search search = {.subtype = subtype};

    if (message == NULL) return NULL;
    g_mime_message_foreach(message, look, &search);
    g_object_unref(message);
    if (search.text == NULL) return NULL;
    GString *lines = g_string_new(search.text);
    g_free(search.text);
    g_string_replace(lines, "\r\n", "\n", 0);
    return g_string_free(lines, FALSE);
}

char *mail_header(GBytes *mail, const char *name)
{
    GMimeMessage *message = parse(mail);
    const char *value =
        message != NULL ? g_mime_object_get_header(GMIME_OBJECT(message), name) : NULL;
    char *line = g_strdup(value != NULL ? value : "");

    if (message != NULL) g_object_unref(message);
    return g_strdelimit(line, "\r\n", ' ');
}

char *mail_message_id(GBytes *mail)
{
    GMimeMessage *message = parse(mail);
    const char *whole = message != NULL ? g_mime_message_get_message_id(message) : NULL;
    char *id = g_strndup(whole != NULL ? whole : "", whole != NULL ? strcspn(whole, "@") : 0);

    if (message != NULL) g_object_unref(message);
    return id;
}
