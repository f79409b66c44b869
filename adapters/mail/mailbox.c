/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/mail/mailbox.h"

#include <stdio.h>
#include <string.h>

#include "core/calendar/date.h"

/* SINCE knows days only, by the server's own clock (RFC 3501 6.4.4): two more make sure. */
#define BACK_MS (2 * DAY_MS)

enum { TIMEOUT_MS = 5 * 60 * 1000, SEARCH_MAX = 512 * 1024, UIDS_MAX = 50000, WHY_MAX = 200 };

/* --- cursor --------------------------------------------------------------------------------- */

char *mail_cursor_text(const MailCursor *cursor)
{
    return g_strdup_printf("%u:%u:%" G_GINT64_FORMAT, cursor->validity, cursor->uid,
                           cursor->since_ms);
}

/* A number of at most so many digits that ends in a colon or the end; false where it is none. */
static bool take_number(const char **at, guint64 most, guint64 *number)
{
    size_t digits = strspn(*at, "0123456789");

    if (digits == 0 || digits > 19) return false;
    *number = g_ascii_strtoull(*at, NULL, 10);
    *at += digits;
    if (**at == ':') ++*at;
    return *number <= most;
}

MailCursor mail_cursor_read(const char *text, int64_t since_ms)
{
    guint64 validity, uid, ms;
    const char *at = text != NULL ? text : "";

    if (!take_number(&at, G_MAXUINT32, &validity) || !take_number(&at, G_MAXUINT32, &uid) ||
        !take_number(&at, G_MAXINT64, &ms) || *at != '\0')
        return (MailCursor){.since_ms = since_ms};
    return (MailCursor){(guint32)validity, (guint32)uid, (int64_t)ms};
}

/* --- requests ------------------------------------------------------------------------------- */

static WireRequest *request_new(const MailServer *server, const char *behind, const char *password)
{
    const char *host = strstr(server->url, "://");
    const char *path = host != NULL ? strchr(host + 3, '/') : NULL;
    bool named = path != NULL && path[1] != '\0';
    g_autofree char *url = g_strconcat(server->url,
                                       named          ? ""
                                       : path != NULL ? "INBOX"
                                                      : "/INBOX",
                                       behind, NULL);
    WireRequest *request = wire_request_new(EXCHANGE_IMAP, url);

    request->user = g_strdup(server->user);
    request->password = g_strdup(password);
    request->timeout_ms = TIMEOUT_MS;
    request->repeatable = true;
    return request;
}

WireRequest *mailbox_search(const Gateway *gateway, const MailCursor *cursor, const char *password)
{
    static const char *const MONTHS[] = {"Jan", "Feb", "Mar", "Apr", "May", "Jun",
                                         "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};
    WireRequest *request = request_new(gateway->imap, "", password);
    int year, month, mday;

    request->answer_max = SEARCH_MAX;
    if (cursor->validity != 0 && cursor->uid != 0) {
        request->method =
            g_strdup_printf("UID SEARCH UID %u:*", MIN(cursor->uid, G_MAXUINT32 - 1) + 1);
    } else {
        day_to_civil((Day)(MAX(cursor->since_ms - BACK_MS, 0) / DAY_MS), &year, &month, &mday);
        request->method =
            g_strdup_printf("UID SEARCH SINCE %d-%s-%04d", mday, MONTHS[month - 1], year);
    }
    return request;
}

WireRequest *mailbox_fetch(const Gateway *gateway, const MailCursor *cursor, guint32 uid,
                           const char *password)
{
    g_autofree char *behind = g_strdup_printf(";UIDVALIDITY=%u/;UID=%u", cursor->validity, uid);
    WireRequest *request = request_new(gateway->imap, behind, password);

    request->answer_max = MAILBOX_MAIL_MAX;
    return request;
}

/* --- answers -------------------------------------------------------------------------------- */

/* The number behind "[NAME " in what the server said of the mailbox; 0: none. */
static guint32 told_number(const char *head, const char *name)
{
    g_autofree char *mark = g_strdup_printf("[%s ", name);
    const char *found = head != NULL ? strstr(head, mark) : NULL;
    guint64 number = found != NULL ? g_ascii_strtoull(found + strlen(mark), NULL, 10) : 0;

    return number <= G_MAXUINT32 ? (guint32)number : 0;
}

/* How the last command ended: what stands behind the tag in the last line of the head. */
static const char *last_word(const char *head)
{
    const char *end = head != NULL ? head + strlen(head) : NULL;

    while (end != NULL && end > head && (end[-1] == '\n' || end[-1] == '\r'))
        end--;
    const char *line = end;
    while (line != NULL && line > head && line[-1] != '\n')
        line--;
    const char *space = line != NULL ? strchr(line, ' ') : NULL;
    return space != NULL ? space + 1 : "";
}

static int by_number(const void *a, const void *b)
{
    guint32 left = *(const guint32 *)a, right = *(const guint32 *)b;

    return left < right ? -1 : left > right;
}

static void keep_once(GArray *uids)
{
    guint kept = 0;

    if (uids->len > 1) qsort(uids->data, uids->len, sizeof(guint32), by_number);
    for (guint i = 0; i < uids->len; i++) {
        guint32 uid = g_array_index(uids, guint32, i);
        if (kept == 0 || g_array_index(uids, guint32, kept - 1) != uid)
            g_array_index(uids, guint32, kept++) = uid;
    }
    g_array_set_size(uids, kept);
}

/* The numbers of "* SEARCH 4 9" lines that are over `after`. False where a line is anything else. */
static bool read_numbers(const char *body, guint32 after, GArray *uids)
{
    g_auto(GStrv) lines = g_strsplit(body, "\n", -1);

    for (int i = 0; lines[i] != NULL; i++) {
        char *line = g_strchomp(lines[i]);
        if (*line == '\0') continue;
        if (g_ascii_strncasecmp(line, "* SEARCH", 8) != 0) return false;
        g_auto(GStrv) words = g_strsplit(line + 8, " ", UIDS_MAX);
        for (int k = 0; words[k] != NULL; k++) {
            const char *at = words[k];
            guint64 number;
            if (*at == '\0') continue;
            if (*at == '(') break; /* RFC 7162 puts (MODSEQ n) behind */
            if (!take_number(&at, G_MAXUINT32, &number) || *at != '\0') return false;
            guint32 uid = (guint32)number;
            if (uid > after) g_array_append_val(uids, uid);
        }
    }
    keep_once(uids);
    return true;
}

GArray *mailbox_found(const WireResponse *response, MailCursor *cursor, bool *again, char **why)
{
    gsize length;
    const char *bytes = g_bytes_get_data(response->body, &length);
    g_autofree char *body = g_strndup(bytes != NULL ? bytes : "", length);
    guint32 validity = told_number(response->head, "UIDVALIDITY");
    guint32 next = told_number(response->head, "UIDNEXT");

    *again = false;
    if (response->phase != PHASE_ANSWERED) {
        *why = g_strdup(response->error);
        return NULL;
    }
    if (validity == 0 || g_ascii_strncasecmp(last_word(response->head), "OK", 2) != 0) {
        *why = g_strdup("the server does not say what mailbox this is");
        return NULL;
    }
    bool same = cursor->validity == validity;
    bool by_uid = cursor->validity != 0 && cursor->uid != 0;
    g_autoptr(GArray) uids = g_array_new(FALSE, FALSE, sizeof(guint32));
    if (!read_numbers(body, same ? cursor->uid : 0, uids)) {
        *why = g_strdup("the answer to the search cannot be read");
        return NULL;
    }
    cursor->validity = validity;
    if (!same) cursor->uid = 0;
    *again = !same && by_uid;
    if (*again) g_array_set_size(uids, 0);
    if (!*again && uids->len == 0 && cursor->uid == 0 && next > 1) cursor->uid = next - 1;
    return g_steal_pointer(&uids);
}

Fetched mailbox_fetched(const WireResponse *response, char **why)
{
    if (response->too_large) return FETCHED_BEGINNING;
    if (response->phase != PHASE_ANSWERED) {
        *why = g_strdup(response->error);
        return FETCHED_NOT;
    }
    if (g_bytes_get_size(response->body) > 0) return FETCHED_WHOLE;
    /* libcurl calls a mail gone that the server refused to give, or that is of another mailbox. */
    const char *ended = last_word(response->head);
    if (g_ascii_strncasecmp(ended, "OK", 2) == 0) return FETCHED_GONE;
    *why = g_strdup_printf("the server answered: %.*s", WHY_MAX, ended);
    g_strdelimit(*why, "\r\n", ' ');
    return FETCHED_NOT;
}
