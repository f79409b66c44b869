/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/mail/report.h"

#include <string.h>

#include "adapters/mail/body.h"
#include "core/wire/message.h"

enum { ID_DIGITS = 32, REASON_MAX = 200, NOTICE_MAX = 64 * 1024 };

/* --- automatic ------------------------------------------------------------------------------ */

static const char *header(GMimeMessage *mail, const char *name)
{
    return g_mime_object_get_header(GMIME_OBJECT(mail), name);
}

/* Is the first word of a header one of those? */
static bool header_is(GMimeMessage *mail, const char *name, const char *const *words)
{
    const char *value = header(mail, name);
    g_autofree char *word = NULL;

    if (value == NULL) return false;
    value += strspn(value, " \t\r\n");
    word = g_ascii_strdown(value, (gssize)strcspn(value, " \t\r\n;("));
    return g_strv_contains(words, word);
}

static const char *sender(GMimeMessage *mail)
{
    InternetAddressList *from = g_mime_message_get_from(mail);

    for (int i = 0; from != NULL && i < internet_address_list_length(from); i++) {
        InternetAddress *address = internet_address_list_get_address(from, i);
        if (INTERNET_ADDRESS_IS_MAILBOX(address))
            return internet_address_mailbox_get_addr(INTERNET_ADDRESS_MAILBOX(address));
    }
    return NULL;
}

static bool is_from(GMimeMessage *mail, const char *const *names)
{
    const char *address = sender(mail);
    g_autofree char *name =
        address != NULL ? g_ascii_strdown(address, (gssize)strcspn(address, "@")) : NULL;

    return name != NULL && g_strv_contains(names, name);
}

static bool has_empty_return_path(GMimeMessage *mail)
{
    const char *path = header(mail, "Return-Path");

    if (path == NULL) return false;
    path += strspn(path, " \t");
    return path[0] == '<' && path[1 + strspn(path + 1, " \t")] == '>';
}

bool mail_is_automatic(GMimeMessage *mail)
{
    static const char *const NO[] = {"no", NULL};
    static const char *const BULK[] = {"bulk", "junk", "list", "auto_reply", "auto-reply", NULL};
    static const char *const MACHINES[] = {"mailer-daemon", "postmaster",   "noreply", "no-reply",
                                           "donotreply",    "do-not-reply", NULL};
    static const char *const MARKS[] = {"X-Autoreply",      "X-Autorespond", "X-Autoresponder",
                                        "X-Mail-Autoreply", "List-Id",       "List-Post"};

    if (header(mail, "Auto-Submitted") != NULL && !header_is(mail, "Auto-Submitted", NO))
        return true;
    for (size_t i = 0; i < G_N_ELEMENTS(MARKS); i++)
        if (header(mail, MARKS[i]) != NULL) return true;
    return header_is(mail, "Precedence", BULK) || has_empty_return_path(mail) ||
           is_from(mail, MACHINES) || mail_is_report(mail);
}

bool mail_is_report(GMimeMessage *mail)
{
    static const char *const SERVERS[] = {"mailer-daemon", "postmaster", NULL};
    GMimeObject *root = g_mime_message_get_mime_part(mail);

    return (root != NULL && g_mime_content_type_is_type(g_mime_object_get_content_type(root),
                                                        "multipart", "report")) ||
           is_from(mail, SERVERS);
}

/* --- reports -------------------------------------------------------------------------------- */

char *mail_own_id(const char *id)
{
    if (id == NULL) return NULL;
    id += strspn(id, "< \t\r\n");
    for (int i = 0; i < ID_DIGITS; i++)
        if (!g_ascii_isxdigit(id[i])) return NULL;
    return id[ID_DIGITS] == '@' ? g_ascii_strup(id, ID_DIGITS) : NULL;
}

/* The fields of delivery-status: groups of header lines with a blank line between them. */
typedef struct {
    char *action;
    char *status;
    char *diagnostic;
} Verdict;

static void verdict_clear(Verdict *verdict)
{
    g_free(verdict->action);
    g_free(verdict->status);
    g_free(verdict->diagnostic);
}

G_DEFINE_AUTO_CLEANUP_CLEAR_FUNC(Verdict, verdict_clear)

static void take_field(Verdict *verdict, const char *line)
{
    const struct {
        const char *name;
        char **into;
    } fields[] = {{"action:", &verdict->action},
                  {"status:", &verdict->status},
                  {"diagnostic-code:", &verdict->diagnostic}};

    for (size_t i = 0; i < G_N_ELEMENTS(fields); i++) {
        size_t length = strlen(fields[i].name);
        if (*fields[i].into != NULL || g_ascii_strncasecmp(line, fields[i].name, length) != 0)
            continue;
        *fields[i].into = g_strstrip(g_strdup(line + length));
    }
}

/* RFC 3464 2.3: our mails have one recipient each, so the first verdict is the message's. A folded line belongs to the one
 * before. */
static void read_verdict(const char *text, Verdict *verdict)
{
    g_auto(GStrv) lines = g_strsplit(text, "\n", -1);
    g_autoptr(GString) field = g_string_new(NULL);

    for (int i = 0; lines[i] != NULL; i++) {
        bool folded = lines[i][0] == ' ' || lines[i][0] == '\t';
        if (!folded) {
            take_field(verdict, field->str);
            g_string_truncate(field, 0);
        }
        g_string_append(field, lines[i]);
    }
    take_field(verdict, field->str);
}

static bool fate_of(const Verdict *verdict, Fate *fate)
{
    if (verdict->action == NULL) return false;
    *fate = g_ascii_strncasecmp(verdict->action, "failed", 6) == 0 ? FATE_FAILED : FATE_DELIVERED;
    return *fate == FATE_FAILED || g_ascii_strncasecmp(verdict->action, "delivered", 9) == 0;
}

/* "5.1.1: smtp; 550 no such user", one line. */
static char *reason_of(const Verdict *verdict)
{
    const char *status = verdict->status != NULL ? verdict->status : "";
    const char *said = verdict->diagnostic != NULL ? verdict->diagnostic : "";
    g_autofree char *line =
        g_strdup_printf("%s%s%s", status, *status != '\0' && *said != '\0' ? ": " : "", said);
    g_autofree char *cut = g_utf8_substring(line, 0, MIN(g_utf8_strlen(line, -1), REASON_MAX));
    g_autofree char *reason = g_strconcat("a mail server reports: ", cut, NULL);

    for (char *at = reason; *at != '\0'; at++)
        if (g_ascii_iscntrl(*at)) *at = ' ';
    return g_steal_pointer(&reason);
}

/* What a report encloses: its verdict, and the mail or its headers. */
typedef struct {
    char *status; /* text of delivery-status, or NULL */
    char *own;    /* id of the message of ours, or NULL */
} Enclosed;

static bool is_type(GMimeObject *part, const char *type, const char *subtype)
{
    return g_mime_content_type_is_type(g_mime_object_get_content_type(part), type, subtype);
}

/* The Message-ID line of headers that came as text. */
static char *own_id_in_text(const char *text)
{
    static const char NAME[] = "message-id:";
    g_auto(GStrv) lines = g_strsplit(text, "\n", -1);

    for (int i = 0; lines[i] != NULL; i++) {
        const char *line = lines[i] + strspn(lines[i], "> \t");
        if (g_ascii_strncasecmp(line, NAME, strlen(NAME)) != 0) continue;
        const char *value = line + strlen(NAME);
        bool folded = value[strspn(value, " \t\r")] == '\0';
        char *own = mail_own_id(folded && lines[i + 1] != NULL ? lines[i + 1] : value);
        if (own != NULL) return own;
    }
    return NULL;
}

static void look_in(GMimeObject *parent, GMimeObject *part, gpointer context)
{
    Enclosed *enclosed = context;
    bool odd = false;

    (void)parent;
    if (GMIME_IS_MESSAGE_PART(part)) {
        GMimeMessage *inner = g_mime_message_part_get_message(GMIME_MESSAGE_PART(part));
        if (enclosed->own == NULL && inner != NULL)
            enclosed->own = mail_own_id(header(inner, "Message-ID"));
        return;
    }
    if (!GMIME_IS_PART(part)) return;
    bool status = is_type(part, "message", "delivery-status") ||
                  is_type(part, "message", "global-delivery-status");
    bool headers = is_type(part, "text", "rfc822-headers") ||
                   is_type(part, "message", "global-headers") || is_type(part, "text", "plain");
    if (!status && !headers) return;
    g_autofree char *text = mail_part_text(GMIME_PART(part), &odd);
    if (strlen(text) > NOTICE_MAX) text[NOTICE_MAX] = '\0';
    if (status && enclosed->status == NULL)
        enclosed->status = g_steal_pointer(&text);
    else if (headers && enclosed->own == NULL)
        enclosed->own = own_id_in_text(text);
}

char *mail_read_report(GMimeMessage *mail, GPtrArray *receipts)
{
    Enclosed enclosed = {0};
    g_auto(Verdict) verdict = {0};
    Fate fate;

    g_mime_message_foreach(mail, look_in, &enclosed);
    if (enclosed.status != NULL) read_verdict(enclosed.status, &verdict);
    if (enclosed.own != NULL && fate_of(&verdict, &fate)) {
        Receipt *receipt = g_new0(Receipt, 1);
        receipt->message = g_strdup(enclosed.own);
        receipt->fate = fate;
        receipt->reason = reason_of(&verdict);
        g_ptr_array_add(receipts, receipt);
    }
    g_free(enclosed.status);
    return enclosed.own;
}
