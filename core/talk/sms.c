/* SPDX-License-Identifier: Apache-2.0 */
#include "core/talk/sms.h"

#define ESCAPE 0x1b

/* 3GPP TS 23.038 6.2.1 by code. 0x09 is the capital letter, as the specification draws it; 0x1b is
 * no character. */
static const gunichar BASIC[128] = {
    '@',   0xa3, '$',  0xa5,  0xe8, 0xe9,  0xf9,  0xec,  0xf2,  0xc7,  '\n',  0xd8,  0xf8,
    '\r',  0xc5, 0xe5, 0x394, '_',  0x3a6, 0x393, 0x39b, 0x3a9, 0x3a0, 0x3a8, 0x3a3, 0x398,
    0x39e, 0,    0xc6, 0xe6,  0xdf, 0xc9,  ' ',   '!',   '"',   '#',   0xa4,  '%',   '&',
    '\'',  '(',  ')',  '*',   '+',  ',',   '-',   '.',   '/',   '0',   '1',   '2',   '3',
    '4',   '5',  '6',  '7',   '8',  '9',   ':',   ';',   '<',   '=',   '>',   '?',   0xa1,
    'A',   'B',  'C',  'D',   'E',  'F',   'G',   'H',   'I',   'J',   'K',   'L',   'M',
    'N',   'O',  'P',  'Q',   'R',  'S',   'T',   'U',   'V',   'W',   'X',   'Y',   'Z',
    0xc4,  0xd6, 0xd1, 0xdc,  0xa7, 0xbf,  'a',   'b',   'c',   'd',   'e',   'f',   'g',
    'h',   'i',  'j',  'k',   'l',  'm',   'n',   'o',   'p',   'q',   'r',   's',   't',
    'u',   'v',  'w',  'x',   'y',  'z',   0xe4,  0xf6,  0xf1,  0xfc,  0xe0};

/* 6.2.1.1: sent as ESC and the code. */
static const struct {
    gunichar character;
    int code;
} EXTENSION[] = {{'\f', 0x0a}, {'^', 0x14}, {'{', 0x28}, {'}', 0x29}, {'\\', 0x2f},
                 {'[', 0x3c},  {'~', 0x3d}, {']', 0x3e}, {'|', 0x40}, {0x20ac, 0x65}};

/* What looks alike and means the same. */
static const struct {
    gunichar character;
    const char *plain;
} ALIKE[] = {
    {'\t', " "},   {'`', "'"},      {0xa0, " "},   {0xab, "\""},   {0xad, ""},     {0xb4, "'"},
    {0xbb, "\""},  {0xd7, "x"},     {0x2002, " "}, {0x2003, " "},  {0x2009, " "},  {0x200b, ""},
    {0x2010, "-"}, {0x2011, "-"},   {0x2012, "-"}, {0x2013, "-"},  {0x2014, "-"},  {0x2018, "'"},
    {0x2019, "'"}, {0x201a, "'"},   {0x201b, "'"}, {0x201c, "\""}, {0x201d, "\""}, {0x201e, "\""},
    {0x2022, "-"}, {0x2026, "..."}, {0x202f, " "}, {0x2032, "'"},  {0x2033, "\""}, {0x2212, "-"},
    {0xfeff, ""},
};

#define DEGREE 0xb0

int sms_code(gunichar character)
{
    /* Most of ASCII has its own place in the alphabet. */
    if (character != 0 && character < 128 && BASIC[character] == character) return (int)character;
    for (int code = 0; character != 0 && code < 128; code++)
        if (BASIC[code] == character) return code;
    for (size_t i = 0; i < G_N_ELEMENTS(EXTENSION); i++)
        if (EXTENSION[i].character == character) return ESCAPE << 8 | EXTENSION[i].code;
    return -1;
}

const char *sms_outside(const char *text)
{
    for (; *text != '\0'; text = g_utf8_next_char(text))
        if (sms_code(g_utf8_get_char(text)) < 0) return text;
    return NULL;
}

/* Units of one character: what no part may split. */
static int width(gunichar character, bool ucs2)
{
    if (ucs2) return character > 0xffff ? 2 : 1;
    return sms_code(character) >> 8 == ESCAPE ? 2 : 1;
}

/* Characters of ASCII that take one septet each, up to the first that does not. */
static size_t plain_start(const char *text)
{
    const char *at = text;

    while ((unsigned char)*at < 128 && BASIC[(unsigned char)*at] == (unsigned char)*at && *at != 0)
        at++;
    return (size_t)(at - text);
}

/* Nearly every text is of such characters throughout. */
static bool size_plain(const char *text, SmsSize *size)
{
    size_t length = plain_start(text);

    if (text[length] != '\0' || length > G_MAXINT) return false;
    int units = (int)length;
    *size = (SmsSize){.units = units, .segments = units <= 160 ? units > 0 : (units + 152) / 153};
    return true;
}

SmsSize sms_size(const char *text)
{
    SmsSize plain;

    if (size_plain(text, &plain)) return plain;
    SmsSize size = {.ucs2 = sms_outside(text) != NULL};
    int single = size.ucs2 ? 70 : 160;
    int part = size.ucs2 ? 67 : 153;
    int filled = 0;
    int parts = 1;

    for (const char *at = text; *at != '\0'; at = g_utf8_next_char(at)) {
        int units = width(g_utf8_get_char(at), size.ucs2);
        size.units += units;
        if (filled + units > part) {
            parts++;
            filled = 0;
        }
        filled += units;
    }
    size.segments = size.units == 0 ? 0 : size.units <= single ? 1 : parts;
    return size;
}

static const char *alike(gunichar character)
{
    if (character < 0xa0 && character != '\t' && character != '`') return NULL;
    for (size_t i = 0; i < G_N_ELEMENTS(ALIKE); i++)
        if (ALIKE[i].character == character) return ALIKE[i].plain;
    return NULL;
}

char *sms_plain(const char *text)
{
    GString *plain = g_string_sized_new(strlen(text) + 1);
    size_t begin = plain_start(text);

    g_string_append_len(plain, text, (gssize)begin);
    for (const char *at = text + begin; *at != '\0'; at = g_utf8_next_char(at)) {
        gunichar character = g_utf8_get_char(at);
        const char *other = alike(character);
        if (character < 128 && other == NULL) {
            g_string_append_c(plain, *at);
            continue;
        }
        bool spaced = plain->len == 0 || plain->str[plain->len - 1] == ' ';
        if (character == DEGREE)
            g_string_append(plain, spaced ? "deg" : " deg");
        else if (other != NULL)
            g_string_append(plain, other);
        else
            g_string_append_unichar(plain, character);
    }
    return g_string_free(plain, FALSE);
}

json_t *sms_size_json(SmsSize size)
{
    return json_pack("{s:s,s:i,s:i}", "alphabet", size.ucs2 ? "ucs2" : "gsm7", "units", size.units,
                     "segments", size.segments);
}
