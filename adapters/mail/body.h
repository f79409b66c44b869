/* SPDX-License-Identifier: Apache-2.0 */
/* What a mail says, gathered from its parts. Private to this folder. */
#ifndef OSIER_ADAPTERS_MAIL_BODY_H
#define OSIER_ADAPTERS_MAIL_BODY_H

#include <gmime/gmime.h>
#include <stdbool.h>

typedef struct {
    GString *text;    /* valid UTF-8 without NUL, lines ended by LF */
    bool attached;    /* a picture or a file came along */
    bool enclosed;    /* whole mails came along */
    bool undecodable; /* some of the text's bytes could not be read */
    bool too_long;    /* the end of a text was not looked at */
    bool too_many;    /* more parts, or deeper ones, than anybody writes */
    int parts;        /* looked at so far */
} MailBody;

void mail_body_read(GMimeObject *object, MailBody *body);
void mail_body_clear(MailBody *body);

/* The decoded text of a text part, valid UTF-8 (g_free); *undecodable is set where bytes were
 * replaced. */
char *mail_part_text(GMimePart *part, bool *undecodable);

/* Undoes the soft line breaks of format=flowed (RFC 3676). */
char *mail_unflow(const char *text, bool delsp);

/* HTML as plain text: markup, scripts and styles dropped, blocks as lines, what is quoted with "> "
 * before its lines. Never NULL (g_free). */
char *mail_html_text(const char *html);

/* Puts "> " before the line or two that introduce a quotation ("On Monday Clinic <a@b> wrote:"):
 * those that end in a colon, hold an address, and stand just before quoted lines. */
char *mail_mark_attribution(const char *text);

#endif
