/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/rehearsal/imap_talk.h"

#include <string.h>

enum { LINE_MAX_BYTES = 8192 };

struct ImapTalk {
    ImapMailbox *mailbox;
    GString *line;    /* what has come of the line in hand, without its CRLF */
    char *logging_in; /* the tag of a log-in whose words come in the next line, or NULL */
    bool logged_in;
    bool selected;
};

ImapTalk *imap_talk_new(ImapMailbox *mailbox)
{
    ImapTalk *talk = g_new0(ImapTalk, 1);

    talk->mailbox = mailbox;
    talk->line = g_string_new(NULL);
    return talk;
}

void imap_talk_free(ImapTalk *talk)
{
    if (talk == NULL) return;
    g_string_free(talk->line, TRUE);
    g_free(talk->logging_in);
    g_free(talk);
}

const char *imap_greeting(void)
{
    return "* OK rehearsal.example ready\r\n";
}

static GBytes *mail_at(const ImapMailbox *mailbox, guint64 uid)
{
    if (uid < mailbox->first_uid || uid - mailbox->first_uid >= mailbox->mails->len) return NULL;
    return mailbox->mails->pdata[uid - mailbox->first_uid];
}

static guint count(const ImapMailbox *mailbox)
{
    guint n = 0;

    for (guint i = 0; i < mailbox->mails->len; i++)
        n += mailbox->mails->pdata[i] != NULL;
    return n;
}

static bool says(const char *line, const char *words)
{
    return g_ascii_strncasecmp(line, words, strlen(words)) == 0;
}

static void select_mailbox(ImapTalk *talk, const char *tag, GString *out)
{
    const ImapMailbox *mailbox = talk->mailbox;

    talk->selected = true;
    g_string_append_printf(out,
                           "* FLAGS (\\Seen)\r\n* %u EXISTS\r\n* 0 RECENT\r\n"
                           "* OK [UIDVALIDITY %u] this mailbox\r\n* OK [UIDNEXT %u] next\r\n"
                           "%s OK [READ-WRITE] selected\r\n",
                           count(mailbox), mailbox->validity,
                           mailbox->first_uid + mailbox->mails->len, tag);
}

/* By date all are given: the asker knows what it has seen. "n:*" gives the last in any case (RFC 3501 6.4.8). */
static void search(ImapTalk *talk, const char *tag, const char *keys, GString *out)
{
    ImapMailbox *mailbox = talk->mailbox;
    guint64 from = says(keys, "UID ") ? g_ascii_strtoull(keys + 4, NULL, 10) : 0;
    guint64 last = mailbox->first_uid + mailbox->mails->len;

    while (last > mailbox->first_uid && mail_at(mailbox, last - 1) == NULL)
        last--;
    mailbox->searches++;
    g_string_append(out, "* SEARCH");
    for (guint64 uid = mailbox->first_uid; uid < last; uid++)
        if (mail_at(mailbox, uid) != NULL && (uid >= from || uid == last - 1))
            g_string_append_printf(out, " %" G_GUINT64_FORMAT, uid);
    g_string_append_printf(out, "\r\n%s OK searched\r\n", tag);
}

static void fetch(ImapTalk *talk, const char *tag, const char *rest, GString *out)
{
    ImapMailbox *mailbox = talk->mailbox;
    guint64 uid = g_ascii_strtoull(rest, NULL, 10);
    GBytes *mail = mail_at(mailbox, uid);

    mailbox->fetches++;
    if (mail != NULL) {
        gsize length;
        const char *bytes = g_bytes_get_data(mail, &length);
        g_string_append_printf(out,
                               "* %" G_GUINT64_FORMAT " FETCH (UID %" G_GUINT64_FORMAT
                               " BODY[] {%" G_GSIZE_FORMAT "}\r\n",
                               uid - mailbox->first_uid + 1, uid, length);
        g_string_append_len(out, bytes, (gssize)length);
        g_string_append(out, ")\r\n");
    }
    g_string_append_printf(out, "%s OK fetched\r\n", tag);
}

static void log_in(ImapTalk *talk, const char *tag, const char *command, GString *out)
{
    bool words_follow = says(command, "AUTHENTICATE PLAIN") && strlen(command) < 20;

    if (words_follow) {
        talk->logging_in = g_strdup(tag);
        g_string_append(out, "+ \r\n");
        return;
    }
    talk->logged_in = true;
    g_string_append_printf(out, "%s OK welcome\r\n", tag);
}

/* False: the connection ends. */
static bool hear_command(ImapTalk *talk, const char *tag, const char *command, GString *out)
{
    if (says(command, "LOGOUT")) {
        g_string_append_printf(out, "* BYE goodbye\r\n%s OK gone\r\n", tag);
        return false;
    }
    if (says(command, "CAPABILITY"))
        g_string_append_printf(out, "* CAPABILITY IMAP4rev1 AUTH=PLAIN\r\n%s OK told\r\n", tag);
    else if (says(command, "NOOP"))
        g_string_append_printf(out, "%s OK nothing\r\n", tag);
    else if (says(command, "LOGIN ") || says(command, "AUTHENTICATE PLAIN"))
        log_in(talk, tag, command, out);
    else if (!talk->logged_in)
        g_string_append_printf(out, "%s NO log in first\r\n", tag);
    else if (says(command, "SELECT "))
        select_mailbox(talk, tag, out);
    else if (!talk->selected)
        g_string_append_printf(out, "%s BAD select first\r\n", tag);
    else if (says(command, "UID SEARCH "))
        search(talk, tag, command + strlen("UID SEARCH "), out);
    else if (says(command, "UID FETCH "))
        fetch(talk, tag, command + strlen("UID FETCH "), out);
    else
        g_string_append_printf(out, "%s BAD not understood\r\n", tag);
    return true;
}

static bool hear_line(ImapTalk *talk, GString *out)
{
    if (talk->logging_in != NULL) {
        g_autofree char *tag = g_steal_pointer(&talk->logging_in);
        talk->logged_in = true;
        g_string_append_printf(out, "%s OK welcome\r\n", tag);
        return true;
    }
    const char *line = talk->line->str;
    const char *space = strchr(line, ' ');
    if (space == NULL || space == line) {
        g_string_append(out, "* BAD no tag\r\n");
        return true;
    }
    g_autofree char *tag = g_strndup(line, (gsize)(space - line));
    return hear_command(talk, tag, space + 1, out);
}

bool imap_talk_hear(ImapTalk *talk, const char *bytes, size_t length, GString *out)
{
    for (size_t i = 0; i < length; i++) {
        GString *line = talk->line;
        bool ends = bytes[i] == '\n' && line->len > 0 && line->str[line->len - 1] == '\r';
        if (!ends) {
            g_string_append_c(line, bytes[i]);
            if (line->len <= LINE_MAX_BYTES) continue;
            g_string_append(out, "* BYE the line is too long\r\n");
            return false;
        }
        g_string_truncate(line, line->len - 1);
        bool goes_on = hear_line(talk, out);
        g_string_truncate(line, 0);
        if (!goes_on) return false;
    }
    return true;
}
