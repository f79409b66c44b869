/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/rehearsal/smtp_talk.h"

#include <string.h>

/* RFC 5321 4.5.3.1: a command line has 512 octets at most, a text line 1000; log-ins may be longer
 * (RFC 4954). The size of a mail is our own limit, told in EHLO (RFC 1870). */
enum { LINE_MAX_BYTES = 12288, MAIL_MAX_BYTES = 10 * 1024 * 1024, RECIPIENTS_MAX = 100 };

typedef enum { HEAR_COMMAND, HEAR_USER, HEAR_PASSWORD, HEAR_MAIL } Hearing;

struct SmtpTalk {
    MailTaken *taken;
    void *context;
    Hearing hearing;
    GString *line; /* what has come of the line in hand, without its CRLF */
    bool greeted;
    bool has_sender;
    GPtrArray *recipients;
    GByteArray *mail;
    bool too_large;
};

SmtpTalk *smtp_talk_new(MailTaken *taken, void *context)
{
    SmtpTalk *talk = g_new0(SmtpTalk, 1);

    talk->taken = taken;
    talk->context = context;
    talk->line = g_string_new(NULL);
    talk->recipients = g_ptr_array_new_with_free_func(g_free);
    talk->mail = g_byte_array_new();
    return talk;
}

void smtp_talk_free(SmtpTalk *talk)
{
    if (talk == NULL) return;
    g_string_free(talk->line, TRUE);
    g_ptr_array_unref(talk->recipients);
    g_byte_array_unref(talk->mail);
    g_free(talk);
}

const char *smtp_greeting(void)
{
    return "220 rehearsal.example ESMTP\r\n";
}

static void reset(SmtpTalk *talk)
{
    talk->has_sender = false;
    talk->too_large = false;
    g_ptr_array_set_size(talk->recipients, 0);
    g_byte_array_set_size(talk->mail, 0);
}

static bool says(const char *line, const char *verb)
{
    size_t length = strlen(verb);

    return g_ascii_strncasecmp(line, verb, length) == 0 &&
           (line[length] == '\0' || line[length] == ' ' || verb[length - 1] == ':');
}

/* The address in "<a@b>" that follows the colon, or NULL. "<>" is the empty one. */
static char *path_in(const char *line)
{
    const char *open = strchr(line, '<');
    const char *close = open != NULL ? strchr(open, '>') : NULL;

    return close != NULL ? g_strndup(open + 1, (gsize)(close - open - 1)) : NULL;
}

static void hear_sender(SmtpTalk *talk, const char *line, GString *out)
{
    g_autofree char *path = path_in(line);
    const char *size = strstr(line, " SIZE=");

    if (!talk->greeted) {
        g_string_append(out, "503 say EHLO first\r\n");
    } else if (path == NULL) {
        g_string_append(out, "501 no sender in angle brackets\r\n");
    } else if (size != NULL && g_ascii_strtoull(size + 6, NULL, 10) > MAIL_MAX_BYTES) {
        g_string_append(out, "552 the mail is too large\r\n");
    } else {
        reset(talk);
        talk->has_sender = true;
        g_string_append(out, "250 sender ok\r\n");
    }
}

static void hear_recipient(SmtpTalk *talk, const char *line, GString *out)
{
    g_autofree char *path = path_in(line);

    if (!talk->has_sender)
        g_string_append(out, "503 no sender yet\r\n");
    else if (path == NULL || *path == '\0')
        g_string_append(out, "501 no recipient in angle brackets\r\n");
    else if (talk->recipients->len >= RECIPIENTS_MAX)
        g_string_append(out, "452 too many recipients\r\n");
    else {
        g_ptr_array_add(talk->recipients, g_steal_pointer(&path));
        g_string_append(out, "250 recipient ok\r\n");
    }
}

static void hear_login(SmtpTalk *talk, const char *line, GString *out)
{
    bool whole = strlen(line) > strlen("AUTH PLAIN ");

    if (says(line, "AUTH PLAIN") && whole) {
        g_string_append(out, "235 welcome\r\n");
    } else if (says(line, "AUTH PLAIN")) {
        talk->hearing = HEAR_PASSWORD;
        g_string_append(out, "334 \r\n");
    } else if (says(line, "AUTH LOGIN")) {
        talk->hearing = HEAR_USER;
        g_string_append(out, "334 VXNlcm5hbWU6\r\n"); /* "Username:" in base64 */
    } else {
        g_string_append(out, "504 only PLAIN and LOGIN\r\n");
    }
}

/* False: the connection ends. */
static bool hear_command(SmtpTalk *talk, const char *line, GString *out)
{
    if (says(line, "QUIT")) {
        g_string_append(out, "221 goodbye\r\n");
        return false;
    }
    if (says(line, "EHLO") || says(line, "HELO")) {
        reset(talk);
        talk->greeted = true;
        if (says(line, "HELO"))
            g_string_append(out, "250 rehearsal.example\r\n");
        else
            g_string_append_printf(out,
                                   "250-rehearsal.example\r\n250-8BITMIME\r\n250-SMTPUTF8\r\n"
                                   "250-AUTH PLAIN LOGIN\r\n250 SIZE %d\r\n",
                                   MAIL_MAX_BYTES);
    } else if (says(line, "AUTH")) {
        hear_login(talk, line, out);
    } else if (says(line, "MAIL FROM:")) {
        hear_sender(talk, line, out);
    } else if (says(line, "RCPT TO:")) {
        hear_recipient(talk, line, out);
    } else if (says(line, "DATA")) {
        bool ready = talk->recipients->len > 0;
        talk->hearing = ready ? HEAR_MAIL : HEAR_COMMAND;
        g_string_append(out, ready ? "354 go on, end with a dot\r\n" : "503 no recipient yet\r\n");
    } else if (says(line, "RSET")) {
        reset(talk);
        g_string_append(out, "250 forgotten\r\n");
    } else if (says(line, "NOOP")) {
        g_string_append(out, "250 ok\r\n");
    } else if (says(line, "VRFY")) {
        g_string_append(out, "252 cannot say\r\n");
    } else {
        g_string_append(out, "500 not understood\r\n");
    }
    return true;
}

static void end_mail(SmtpTalk *talk, GString *out)
{
    talk->hearing = HEAR_COMMAND;
    if (talk->too_large) {
        g_string_append(out, "552 the mail is too large\r\n");
    } else {
        g_autoptr(GBytes) mail = g_bytes_new(talk->mail->data, talk->mail->len);
        talk->taken(talk->recipients, mail, talk->context);
        g_string_append(out, "250 taken\r\n");
    }
    reset(talk);
}

/* One line of a mail: a lone dot ends it, a dot before another one is the sender's stuffing. */
static void hear_mail(SmtpTalk *talk, const char *line, size_t length, GString *out)
{
    if (length == 1 && line[0] == '.') {
        end_mail(talk, out);
        return;
    }
    if (length > 0 && line[0] == '.') {
        line++;
        length--;
    }
    talk->too_large = talk->too_large || talk->mail->len + length + 2 > MAIL_MAX_BYTES;
    if (talk->too_large) return;
    g_byte_array_append(talk->mail, (const guint8 *)line, (guint)length);
    g_byte_array_append(talk->mail, (const guint8 *)"\r\n", 2);
}

static bool hear_line(SmtpTalk *talk, GString *out)
{
    const GString *line = talk->line;

    switch (talk->hearing) {
    case HEAR_MAIL: hear_mail(talk, line->str, line->len, out); return true;
    case HEAR_USER:
        talk->hearing = HEAR_PASSWORD;
        g_string_append(out, "334 UGFzc3dvcmQ6\r\n"); /* "Password:" in base64 */
        return true;
    case HEAR_PASSWORD:
        talk->hearing = HEAR_COMMAND;
        g_string_append(out, "235 welcome\r\n");
        return true;
    case HEAR_COMMAND: return hear_command(talk, line->str, out);
    }
    g_assert_not_reached();
}

bool smtp_talk_hear(SmtpTalk *talk, const char *bytes, size_t length, GString *out)
{
    for (size_t i = 0; i < length; i++) {
        bool ends =
            bytes[i] == '\n' && talk->line->len > 0 && talk->line->str[talk->line->len - 1] == '\r';
        if (!ends) {
            g_string_append_c(talk->line, bytes[i]);
            if (talk->line->len <= LINE_MAX_BYTES) continue;
            g_string_append(out, "500 the line is too long\r\n");
            return false;
        }
        g_string_truncate(talk->line, talk->line->len - 1);
        bool goes_on = hear_line(talk, out);
        g_string_truncate(talk->line, 0);
        if (!goes_on) return false;
    }
    return true;
}
