/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/mail/body.h"

#include <string.h>

/* More than any mail program writes. */
enum { PARTS_MAX = 200, DEPTH_MAX = 30, ATTRIBUTION_MAX = 200, PART_TEXT_MAX = 256 * 1024 };

/* --- text ----------------------------------------------------------------------------------- */

/* NULL where the bytes are none of that charset, or it is unknown. */
static char *converted(const char *data, gsize length, const char *charset)
{
    gsize written = 0;
    g_autofree char *text = g_convert(data, (gssize)length, "UTF-8", charset, NULL, &written, NULL);

    return text != NULL ? g_utf8_make_valid(text, (gssize)written) : NULL;
}

/* Lines end in LF; no other control characters, for people read this in terminals. */
static char *clean(const char *text)
{
    GString *out = g_string_sized_new(strlen(text) + 1);

    for (; *text != '\0'; text++) {
        if (*text == '\r' && text[1] == '\n') continue;
        bool stays = (unsigned char)*text >= ' ' || *text == '\n' || *text == '\t';
        g_string_append_c(out, *text == '\r' ? '\n' : stays && *text != 0x7f ? *text : ' ');
    }
    return g_string_free(out, FALSE);
}

char *mail_part_text(GMimePart *part, bool *undecodable)
{
    GMimeDataWrapper *content = g_mime_part_get_content(part);
    const char *charset = g_mime_object_get_content_type_parameter(GMIME_OBJECT(part), "charset");
    GMimeStream *memory = g_mime_stream_mem_new();
    g_autofree char *text = NULL;

    if (content != NULL) g_mime_data_wrapper_write_to_stream(content, memory);
    GByteArray *bytes = g_mime_stream_mem_get_byte_array(GMIME_STREAM_MEM(memory));
    const char *data = bytes->len > 0 ? (const char *)bytes->data : "";
    bool shifts = charset != NULL && g_ascii_strncasecmp(charset, "iso-2022", 8) == 0;
    bool valid = g_utf8_validate(data, bytes->len, NULL) && !shifts;
    if (!valid && charset != NULL)
        text = converted(data, bytes->len, g_mime_charset_iconv_name(charset));
    /* Old programs wrote so without a word about it. */
    if (!valid && text == NULL) text = converted(data, bytes->len, "WINDOWS-1252");
    if (text == NULL) {
        text = g_utf8_make_valid(data, bytes->len);
        *undecodable = *undecodable || !valid;
    }
    g_object_unref(memory);
    return clean(text);
}

static size_t quote_depth(const char *line)
{
    return strspn(line, ">");
}

char *mail_unflow(const char *text, bool delsp)
{
    g_auto(GStrv) lines = g_strsplit(text, "\n", -1);
    GString *out = g_string_new(NULL);
    bool flows = false;
    size_t depth = 0;

    for (int i = 0; lines[i] != NULL; i++) {
        size_t own = quote_depth(lines[i]);
        const char *line = lines[i] + own;
        if (*line == ' ') line++; /* space-stuffed */
        bool signature = strcmp(line, "-- ") == 0;
        if (flows && own == depth && !signature) {
            if (delsp) g_string_truncate(out, out->len - 1);
        } else {
            if (i > 0) g_string_append_c(out, '\n');
            for (size_t k = 0; k < own; k++)
                g_string_append_c(out, '>');
            if (own > 0) g_string_append_c(out, ' ');
        }
        g_string_append(out, line);
        flows = !signature && *line != '\0' && g_str_has_suffix(line, " ");
        depth = own;
    }
    return g_string_free(out, FALSE);
}

static bool is_blank(const char *line)
{
    return line[strspn(line, " \t")] == '\0';
}

static bool is_quoted(const char *line)
{
    return line[strspn(line, " \t")] == '>';
}

static bool ends_in_colon(const char *line)
{
    size_t length = strlen(line);

    while (length > 0 && g_ascii_isspace(line[length - 1]))
        length--;
    return length > 0 && line[length - 1] == ':';
}

static bool quote_follows(char *const *lines, int i)
{
    while (lines[i] != NULL && is_blank(lines[i]))
        i++;
    return lines[i] != NULL && is_quoted(lines[i]);
}

static bool holds_address(const char *line)
{
    const char *open = strchr(line, '<'), *at = open != NULL ? strchr(open, '@') : NULL;

    return at != NULL && strchr(at, '>') != NULL;
}

/* How many lines from i on introduce a quotation; 0 where it is not certain that any do. A line before them may be the
 * sender's own. */
static int attribution(char *const *lines, int i)
{
    const char *first = lines[i], *second = lines[i + 1];

    if (is_blank(first) || is_quoted(first) || strlen(first) > ATTRIBUTION_MAX) return 0;
    if (holds_address(first) && ends_in_colon(first) && quote_follows(lines, i + 1)) return 1;
    if (second == NULL || is_blank(second) || strlen(second) > ATTRIBUTION_MAX) return 0;
    bool broken = g_str_has_suffix(first, "<") ||
                  (holds_address(first) && strpbrk(first, "0123456789") != NULL);
    return broken && ends_in_colon(second) && quote_follows(lines, i + 2) ? 2 : 0;
}

char *mail_mark_attribution(const char *text)
{
    g_auto(GStrv) lines = g_strsplit(text, "\n", -1);
    GString *out = g_string_new(NULL);
    int marked = 0;

    for (int i = 0; lines[i] != NULL; i++) {
        if (marked == 0) marked = attribution(lines, i);
        if (i > 0) g_string_append_c(out, '\n');
        if (marked > 0) g_string_append(out, "> ");
        g_string_append(out, lines[i]);
        marked -= marked > 0;
    }
    return g_string_free(out, FALSE);
}

/* --- parts ---------------------------------------------------------------------------------- */

static bool is_type(GMimeObject *object, const char *type, const char *subtype)
{
    return g_mime_content_type_is_type(g_mime_object_get_content_type(object), type, subtype);
}

static bool is_attachment(GMimeObject *object)
{
    const char *disposition = g_mime_object_get_disposition(object);

    return disposition != NULL && g_ascii_strcasecmp(disposition, "attachment") == 0;
}

/* Signatures and cards that programs add by themselves say nothing that a person must see. */
static bool says_nothing(GMimeObject *object)
{
    static const char *const QUIET[][2] = {{"application", "pgp-signature"},
                                           {"application", "pkcs7-signature"},
                                           {"application", "x-pkcs7-signature"},
                                           {"application", "pgp-keys"},
                                           {"text", "vcard"},
                                           {"text", "x-vcard"}};

    for (size_t i = 0; i < G_N_ELEMENTS(QUIET); i++)
        if (is_type(object, QUIET[i][0], QUIET[i][1])) return true;
    return false;
}

static bool has_words(const char *text)
{
    for (; *text != '\0'; text = g_utf8_next_char(text))
        if (!g_unichar_isspace(g_utf8_get_char(text))) return true;
    return false;
}

/* A part's words as they would be seen. */
static char *words_of(GMimeObject *object, MailBody *body)
{
    g_autofree char *raw = mail_part_text(GMIME_PART(object), &body->undecodable);
    const char *format = g_mime_object_get_content_type_parameter(object, "format");
    const char *delsp = g_mime_object_get_content_type_parameter(object, "delsp");
    if (strlen(raw) > PART_TEXT_MAX) {
        *g_utf8_find_prev_char(raw, raw + PART_TEXT_MAX + 1) = '\0';
        body->too_long = true;
    }
    g_autofree char *plain =
        is_type(object, "text", "html") ? mail_html_text(raw)
        : format != NULL && g_ascii_strcasecmp(format, "flowed") == 0
            ? mail_unflow(raw, delsp != NULL && g_ascii_strcasecmp(delsp, "yes") == 0)
            : g_strdup(raw);
    return mail_mark_attribution(plain);
}

static void add_words(MailBody *body, GMimeObject *object)
{
    g_autofree char *words = words_of(object, body);

    if (!has_words(words)) return;
    if (body->text->len > 0) g_string_append_c(body->text, '\n');
    g_string_append(body->text, words);
    if (!g_str_has_suffix(words, "\n")) g_string_append_c(body->text, '\n');
}

static void walk(GMimeObject *object, MailBody *body, int depth, bool related);

/* Of several ways to say the same, plain text where it says anything; else the last that does. */
static void walk_alternative(GMimeMultipart *parts, MailBody *body, int depth)
{
    int count = MIN(g_mime_multipart_get_count(parts), PARTS_MAX);

    for (int pass = 0; pass < 2; pass++)
        for (int i = 0; i < count; i++) {
            GMimeObject *part = g_mime_multipart_get_part(parts, pass == 0 ? i : count - 1 - i);
            if (pass == 0 && !is_type(part, "text", "plain")) continue;
            gsize before = body->text->len;
            walk(part, body, depth + 1, true);
            if (body->text->len > before) return;
        }
}

static void walk_multipart(GMimeMultipart *parts, MailBody *body, int depth, bool related)
{
    int count = g_mime_multipart_get_count(parts);

    if (is_type(GMIME_OBJECT(parts), "multipart", "alternative")) {
        walk_alternative(parts, body, depth);
        return;
    }
    related = related || is_type(GMIME_OBJECT(parts), "multipart", "related");
    for (int i = 0; i < count && !body->too_many; i++)
        walk(g_mime_multipart_get_part(parts, i), body, depth + 1, related);
}

/* related: pictures here belong to the looks of a text. */
static void walk(GMimeObject *object, MailBody *body, int depth, bool related)
{
    if (object == NULL) return;
    body->too_many = body->too_many || ++body->parts > PARTS_MAX || depth > DEPTH_MAX;
    if (body->too_many) return;
    if (GMIME_IS_MULTIPART(object)) {
        walk_multipart(GMIME_MULTIPART(object), body, depth, related);
    } else if (GMIME_IS_MESSAGE_PART(object)) {
        body->enclosed = true;
    } else if (GMIME_IS_PART(object) && !is_attachment(object) &&
               (is_type(object, "text", "plain") || is_type(object, "text", "html") ||
                is_type(object, "text", "enriched"))) {
        add_words(body, object);
    } else if (!says_nothing(object)) {
        bool picture = is_type(object, "image", "*");
        body->attached = body->attached || !(picture && related && !is_attachment(object));
    }
}

void mail_body_read(GMimeObject *object, MailBody *body)
{
    *body = (MailBody){.text = g_string_new(NULL)};
    walk(object, body, 0, false);
}

void mail_body_clear(MailBody *body)
{
    g_string_free(body->text, TRUE);
}
