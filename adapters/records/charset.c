/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/records/charset.h"

#include <stdbool.h>
#include <string.h>

#define LOOK_BYTES 4096

static char *convert(const char *bytes, gsize length, const char *from, const char *encoding,
                     const char **told, const char **why)
{
    gsize read, written;
    char *text = g_convert(bytes, (gssize)length, "UTF-8", from, &read, &written, NULL);

    *told = encoding;
    if (text != NULL && strlen(text) == written && g_utf8_validate(text, -1, NULL)) return text;
    g_free(text);
    *why = "is damaged: it holds bytes that its encoding does not know";
    return NULL;
}

/* Letters of Latin script as UTF-16 have a zero in every other byte: 0 the first of the pair, 1 the second, -1 neither. */
static int zero_side(const char *bytes, gsize length)
{
    gsize looked = MIN(length, LOOK_BYTES) & ~(gsize)1;
    gsize zeros[2] = {0, 0};

    for (gsize i = 0; i < looked; i++)
        zeros[i % 2] += bytes[i] == '\0';
    if (looked < 4 || zeros[0] + zeros[1] < looked / 4) return -1;
    if (zeros[0] > 4 * zeros[1]) return 0;
    return zeros[1] > 4 * zeros[0] ? 1 : -1;
}

/* Is most of what is not ASCII well-formed UTF-8? */
static bool is_broken_utf8(const char *bytes, gsize length)
{
    gsize good = 0, bad = 0;

    for (const char *at = bytes, *end = bytes + length; at < end;) {
        if ((guchar)*at < 0x80) {
            at++;
        } else if ((gint32)g_utf8_get_char_validated(at, end - at) >= 0) {
            good++;
            at = g_utf8_next_char(at);
        } else {
            bad++;
            at++;
        }
    }
    return good > bad;
}

static bool has_c1_bytes(const char *bytes, gsize length)
{
    for (gsize i = 0; i < length; i++)
        if ((guchar)bytes[i] >= 0x80 && (guchar)bytes[i] <= 0x9f) return true;
    return false;
}

static char *read_utf8(const char *bytes, gsize length, const char **encoding, const char **why)
{
    *encoding = "UTF-8";
    if (g_utf8_validate_len(bytes, length, NULL)) return g_strndup(bytes, length);
    *why = "is damaged UTF-8: save it again as CSV UTF-8";
    return NULL;
}

char *charset_to_utf8(const char *bytes, gsize length, const char **encoding, const char **why)
{
    *encoding = "";
    if (length >= 3 && memcmp(bytes, "\xef\xbb\xbf", 3) == 0)
        return read_utf8(bytes + 3, length - 3, encoding, why);
    if (length >= 2 && memcmp(bytes, "\xff\xfe", 2) == 0)
        return convert(bytes + 2, length - 2, "UTF-16LE", "UTF-16", encoding, why);
    if (length >= 2 && memcmp(bytes, "\xfe\xff", 2) == 0)
        return convert(bytes + 2, length - 2, "UTF-16BE", "UTF-16", encoding, why);
    int side = zero_side(bytes, length);
    if (side >= 0)
        return convert(bytes, length, side == 0 ? "UTF-16BE" : "UTF-16LE", "UTF-16", encoding, why);
    if (memchr(bytes, '\0', length) != NULL) {
        *why = "is no text: it holds zero bytes; save the spreadsheet as CSV";
        return NULL;
    }
    if (g_utf8_validate_len(bytes, length, NULL) || is_broken_utf8(bytes, length))
        return read_utf8(bytes, length, encoding, why);
    if (has_c1_bytes(bytes, length))
        return convert(bytes, length, "WINDOWS-1252", "Windows-1252", encoding, why);
    return convert(bytes, length, "ISO-8859-1", "Latin-1", encoding, why);
}
