/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/support/hostile_mail.h"

#include <string.h>

#define FROM "From: mallory@stranger.example\r\n"
#define MANY "Content-Type: multipart/mixed; boundary=b\r\n\r\n"
#define NESTED "Content-Type: message/rfc822\r\n\r\n"

/* A beginning, and what follows again and again. %d in it counts, and for %s stands as much of `fill` as one field may have. */
static const struct {
    const char *name;
    const char *begins;
    const char *unit;
    const char *fill; /* or NULL */
    bool cut;
} KINDS[HOSTILE_KINDS] = {
    {"parts", FROM MANY, "--b\r\n\r\nx\r\n", NULL, true},
    {"parts of text", FROM MANY, "--b\r\nContent-Type: text/plain\r\n\r\nx\r\n", NULL, true},
    {"parts within parts", FROM, "Content-Type: multipart/mixed; boundary=b%d\r\n\r\n--b%d\r\n",
     NULL, true},
    {"mails within mails", FROM, NESTED, NULL, false},
    {"fields", FROM, "A:\r\n", NULL, true},
    {"kinds of content", FROM, "Content-Type: text/plain; a=b\r\n", NULL, true},
    {"one field", FROM "X: ", "a", NULL, true},
    {"one folded field", FROM "X: a", "\r\n a", NULL, true},
    {"half of an encoded word", FROM "Subject: ", "=?utf-8?b?a", NULL, true},
    {"groups of addresses", "From: ", "a:", NULL, true},
    {"addresses", "From: ", "a@b@c, ", NULL, true},
    {"what it answers", FROM "References: ", "<", NULL, true},
    {"parameters", FROM "Content-Type: text/plain", "; a=b", NULL, true},
    {"numbered parameters", FROM "Content-Type: text/plain", "; a*%d=b", NULL, true},
    {"date", FROM "Date: ", "1 ", NULL, true},
    {"groups in each of many mails", FROM NESTED, "To: %s\r\n" NESTED, "a:", true},
    {"half words in each of many mails", FROM NESTED, "Message-ID: %s\r\n" NESTED, "=?utf-8?b?a",
     true},
    {"lines", FROM "\r\n", "\n", NULL, false},
    {"quotations", FROM "\r\n", "<a@b> 1\nx:\n\n>\n\n", NULL, false},
    {"tags", FROM "Content-Type: text/html\r\n\r\n", "<blockquote>x<br><!--<style>", NULL, false},
    {"flowing lines", FROM "Content-Type: text/plain; format=flowed\r\n\r\n", "> \n", NULL, false},
};

static void append_unit(GString *mail, int kind, int n)
{
    const char *unit = KINDS[kind].unit;
    g_autofree char *number = g_strdup_printf("%d", n);
    g_autoptr(GString) filled = g_string_new(unit);

    g_string_replace(filled, "%d", number, 0);
    if (KINDS[kind].fill != NULL) {
        g_autoptr(GString) fill = g_string_new(NULL);
        while (fill->len < 16000)
            g_string_append(fill, KINDS[kind].fill);
        g_string_replace(filled, "%s", fill->str, 0);
    }
    g_string_append_len(mail, filled->str, (gssize)filled->len);
}

GBytes *hostile_mail(int kind)
{
    GString *mail = g_string_new(KINDS[kind].begins);

    for (int n = 0; mail->len < HOSTILE_BYTES; n++)
        append_unit(mail, kind, n);
    g_string_truncate(mail, HOSTILE_BYTES);
    return g_string_free_to_bytes(mail);
}

const char *hostile_name(int kind)
{
    return KINDS[kind].name;
}

bool hostile_is_cut(int kind)
{
    return KINDS[kind].cut;
}
