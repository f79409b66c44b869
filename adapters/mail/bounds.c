/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/mail/bounds.h"

#include <string.h>

/* What a field costs grows with the square of its length: the square of the longest is to be had a few times over, then
 * short fields only. */
#define WORK_MAX ((guint64)4 * BOUNDS_FIELD_BYTES * BOUNDS_FIELD_BYTES)

typedef struct {
    GByteArray *out;
    MailCut cut;
    int delimiters;
    int fields; /* since the last blank line */
    bool in_field;
    gsize field_had;  /* bytes of the field in hand so far */
    gsize field_most; /* and how many it may have */
    guint64 work;     /* of the fields before it */
} Bounder;

/* A name, blanks or none, and a colon (RFC 5322 2.2 and 4.5). */
static bool is_field(const char *line, gsize length)
{
    gsize at = 0;

    while (at < length && g_ascii_isgraph(line[at]) && line[at] != ':')
        at++;
    if (at == 0) return false;
    while (at < length && (line[at] == ' ' || line[at] == '\t'))
        at++;
    return at < length && line[at] == ':';
}

static bool is_blank(const char *line, gsize length)
{
    return length == 0 || *line == '\n' || (*line == '\r' && length > 1 && line[1] == '\n');
}

static void put(Bounder *bounder, const char *bytes, gsize length)
{
    g_byte_array_append(bounder->out, (const guint8 *)bytes, (guint)length);
}

/* A line of the field in hand, as far as there is room for it. */
static void put_field(Bounder *bounder, const char *line, gsize length)
{
    gsize room = bounder->field_most - bounder->field_had;
    bool whole = length <= room;
    gsize taken = whole ? length : room - MIN(room, 2);

    put(bounder, line, taken);
    if (!whole && taken > 0) put(bounder, "\r\n", 2);
    bounder->cut.fields = bounder->cut.fields || !whole;
    bounder->field_had += whole ? length : room;
}

static void end_field(Bounder *bounder)
{
    bounder->work += (guint64)bounder->field_had * bounder->field_had;
    bounder->field_had = 0;
    bounder->in_field = false;
}

static void begin_field(Bounder *bounder)
{
    bounder->in_field = true;
    bounder->field_most = ++bounder->fields > BOUNDS_FIELDS ? 0
                          : bounder->work < WORK_MAX        ? BOUNDS_FIELD_BYTES
                                                            : BOUNDS_FIELD_BYTES_SHORT;
}

/* False where the mail ends here. */
static bool take_line(Bounder *bounder, const char *line, gsize length)
{
    bool blank = is_blank(line, length);

    if (blank || (*line != ' ' && *line != '\t')) {
        end_field(bounder);
        if (blank) bounder->fields = 0;
        if (!blank && is_field(line, length)) begin_field(bounder);
        bounder->delimiters += length >= 2 && line[0] == '-' && line[1] == '-';
        bounder->cut.parts = bounder->delimiters > BOUNDS_DELIMITERS;
        if (bounder->cut.parts) return false;
    }
    if (bounder->in_field)
        put_field(bounder, line, length);
    else
        put(bounder, line, length);
    return true;
}

GBytes *mail_bounded(GBytes *mail, MailCut *cut)
{
    static const char MARK[] = "\xef\xbb\xbf"; /* GMime passes over a byte order mark */
    gsize length, at = 0;
    const char *bytes = g_bytes_get_data(mail, &length);
    Bounder bounder = {.out = g_byte_array_sized_new((guint)length)};
    bool more = true;

    if (length >= strlen(MARK) && memcmp(bytes, MARK, strlen(MARK)) == 0) at = strlen(MARK);
    while (more && at < length) {
        const char *end = memchr(bytes + at, '\n', length - at);
        gsize line = end != NULL ? (gsize)(end - bytes) + 1 - at : length - at;
        more = take_line(&bounder, bytes + at, line);
        at += line;
    }
    *cut = bounder.cut;
    return g_byte_array_free_to_bytes(bounder.out);
}
