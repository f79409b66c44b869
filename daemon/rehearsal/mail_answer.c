/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/rehearsal/mail_answer.h"

#include <string.h>

#include "adapters/mail/parts.h"

/* "Mon, 02 Mar 2026 09:15:00 +0000" (RFC 5322 3.3), whatever the locale (g_free). */
static char *date_line(const MailAnswer *answer)
{
    static const char *const DAYS[] = {"", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"};
    static const char *const MONTHS[] = {"",    "Jan", "Feb", "Mar", "Apr", "May", "Jun",
                                         "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};
    g_autoptr(GDateTime) utc = g_date_time_new_from_unix_utc(answer->at_ms / 1000);
    g_autoptr(GDateTime) local = g_date_time_to_timezone(utc, answer->zone);
    g_autofree char *behind = g_date_time_format(local, "%Y %H:%M:%S %z");

    return g_strdup_printf("%s, %02d %s %s", DAYS[g_date_time_get_day_of_week(local)],
                           g_date_time_get_day_of_month(local),
                           MONTHS[g_date_time_get_month(local)], behind);
}

static void append_quoted(GString *mail, const char *text)
{
    g_auto(GStrv) lines = g_strsplit(text, "\n", -1);

    for (int i = 0; lines[i] != NULL; i++)
        if (lines[i + 1] != NULL || *lines[i] != '\0')
            g_string_append_printf(mail, ">%s%s\r\n", *lines[i] != '\0' ? " " : "", lines[i]);
}

static void append_lines(GString *mail, const char *text)
{
    g_auto(GStrv) lines = g_strsplit(text, "\n", -1);

    for (int i = 0; lines[i] != NULL; i++)
        g_string_append_printf(mail, "%s\r\n", lines[i]);
}

GBytes *mail_answer(const MailAnswer *answer)
{
    GString *mail = g_string_new(NULL);
    g_autofree char *date = date_line(answer);
    g_autofree char *to = mail_header(answer->answered, "From");
    g_autofree char *own = mail_header(answer->answered, "Message-ID");
    g_autofree char *subject = mail_header(answer->answered, "Subject");
    g_autofree char *text = mail_part(answer->answered, "plain");
    const char *domain = strchr(answer->from, '@');

    g_string_append_printf(mail,
                           "Return-Path: <%s>\r\nFrom: %s <%s>\r\nTo: %s\r\nDate: %s\r\n"
                           "Message-ID: <%s%s>\r\nIn-Reply-To: %s\r\nReferences: %s\r\n"
                           "Subject: Re: %s\r\nMIME-Version: 1.0\r\n"
                           "Content-Type: text/plain; charset=utf-8\r\n"
                           "Content-Transfer-Encoding: 8bit\r\n\r\n",
                           answer->from, answer->name, answer->from, to, date, answer->id,
                           domain != NULL ? domain : "@client.example", own, own, subject);
    append_lines(mail, answer->text);
    g_string_append_printf(mail, "\r\nOn %s %s wrote:\r\n", date, to);
    append_quoted(mail, text != NULL ? text : "");
    return g_string_free_to_bytes(mail);
}
