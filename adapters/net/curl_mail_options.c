/* SPDX-License-Identifier: Apache-2.0 */
/* What an SMTP or IMAP exchange tells libcurl, and its callbacks. They run in a thread of the room (curl_mail.c). */
#include <string.h>

#include "adapters/net/curl_inside.h"

enum {
    REPLY_MAX = 4096,     /* bytes of an SMTP reply kept */
    HEAD_MAX = 16 * 1024, /* bytes of IMAP's other lines kept */
    LINE_BUFFER =
        512 *
        1024, /* a search may answer with thousands of numbers in one line; a line of over half of this is cut */
    GOODBYE_S_MAX = 1
};

/* Keeps the text of the last SMTP reply: the server's own reason where it refuses. */
static size_t take_reply_line(char *data, size_t size, size_t count, void *context)
{
    Exchange *exchange = context;
    size_t length = size * count;
    if (exchange->reply_whole) g_byte_array_set_size(exchange->answer, 0);
    if (exchange->answer->len + length <= REPLY_MAX)
        g_byte_array_append(exchange->answer, (const guint8 *)data, (guint)length);
    exchange->reply_whole = length < 4 || data[3] != '-';
    return length;
}

/* The last byte of a message is followed by the dot that hands it over: from the moment that its
 * end is told, an exchange that was given up could still be delivered. So both are decided under
 * one lock. */
static size_t give_mail(char *buffer, size_t size, size_t count, void *context)
{
    Exchange *exchange = context;
    size_t total;
    const char *mail = g_bytes_get_data(exchange->request->body, &total);
    size_t length = MIN(size * count, total - exchange->mail_read);
    if (length > 0) memcpy(buffer, mail + exchange->mail_read, length);
    exchange->mail_read += length;
    if (length > 0) return length;
    uv_mutex_lock(&exchange->lock);
    bool stop = exchange->stopped;
    exchange->mail_drained = !stop;
    uv_mutex_unlock(&exchange->lock);
    return stop ? CURL_READFUNC_ABORT : 0;
}

/* Called about once a second, also while libcurl waits for a reply. */
static int keep_on(void *context, curl_off_t a, curl_off_t b, curl_off_t c, curl_off_t d)
{
    (void)a;
    (void)b;
    (void)c;
    (void)d;
    Exchange *exchange = context;
    uv_mutex_lock(&exchange->lock);
    int stop = exchange->stopped;
    uv_mutex_unlock(&exchange->lock);
    return stop;
}

/* The outcome is known once libcurl says goodbye, but it would wait two minutes for the reply to
 * that. */
static int see_command(CURL *easy, curl_infotype type, char *data, size_t size, void *context)
{
    (void)context;
    if (type != CURLINFO_HEADER_OUT) return 0;
    g_autofree char *line = g_strndup(data, size);
    g_strchomp(line);
    if (strcmp(line, "QUIT") == 0 || g_str_has_suffix(line, " LOGOUT"))
        curl_easy_setopt(easy, CURLOPT_SERVER_RESPONSE_TIMEOUT, (long)GOODBYE_S_MAX);
    return 0;
}

static bool set_mail(Exchange *exchange)
{
    CURL *easy = exchange->easy;
    const WireRequest *request = exchange->request;
    long security = socket_host_is_loopback(request->url) ? CURLUSESSL_TRY : CURLUSESSL_ALL;
    bool set =
        curl_easy_setopt(easy, CURLOPT_USE_SSL, security) == CURLE_OK &&
        curl_easy_setopt(easy, CURLOPT_OPENSOCKETFUNCTION, socket_open) == CURLE_OK &&
        /* libcurl's own way: what socket_close looks into is the loop's, and this is another thread */
        curl_easy_setopt(easy, CURLOPT_CLOSESOCKETFUNCTION, NULL) == CURLE_OK &&
        curl_easy_setopt(easy, CURLOPT_NOPROGRESS, 0L) == CURLE_OK &&
        curl_easy_setopt(easy, CURLOPT_XFERINFOFUNCTION, keep_on) == CURLE_OK &&
        curl_easy_setopt(easy, CURLOPT_XFERINFODATA, exchange) == CURLE_OK &&
        curl_easy_setopt(easy, CURLOPT_MAXCONNECTS, 1L) == CURLE_OK &&
        curl_easy_setopt(easy, CURLOPT_FORBID_REUSE, request->kind == EXCHANGE_IMAP ? 1L : 0L) ==
            CURLE_OK &&
        curl_easy_setopt(easy, CURLOPT_VERBOSE, 1L) == CURLE_OK &&
        curl_easy_setopt(easy, CURLOPT_DEBUGFUNCTION, see_command) == CURLE_OK;
    if (request->user != NULL)
        set = set && curl_easy_setopt(easy, CURLOPT_USERNAME, request->user) == CURLE_OK &&
              curl_easy_setopt(easy, CURLOPT_PASSWORD,
                               request->password ? request->password : "") == CURLE_OK;
    return set;
}

static bool set_smtp(Exchange *exchange)
{
    CURL *easy = exchange->easy;
    const WireRequest *request = exchange->request;
    for (guint i = 0; i < request->mail_to->len; i++)
        exchange->recipients = curl_slist_append(exchange->recipients, request->mail_to->pdata[i]);
    return set_mail(exchange) &&
           curl_easy_setopt(easy, CURLOPT_MAIL_FROM, request->mail_from) == CURLE_OK &&
           curl_easy_setopt(easy, CURLOPT_MAIL_RCPT, exchange->recipients) == CURLE_OK &&
           curl_easy_setopt(easy, CURLOPT_UPLOAD, 1L) == CURLE_OK &&
           curl_easy_setopt(easy, CURLOPT_READFUNCTION, give_mail) == CURLE_OK &&
           curl_easy_setopt(easy, CURLOPT_READDATA, exchange) == CURLE_OK &&
           curl_easy_setopt(easy, CURLOPT_INFILESIZE_LARGE,
                            (curl_off_t)g_bytes_get_size(request->body)) == CURLE_OK &&
           curl_easy_setopt(easy, CURLOPT_HEADERFUNCTION, take_reply_line) == CURLE_OK &&
           curl_easy_setopt(easy, CURLOPT_HEADERDATA, exchange) == CURLE_OK;
}

/* The last lines matter most: how the command itself ended. */
static size_t take_head_line(char *data, size_t size, size_t count, void *context)
{
    Exchange *exchange = context;
    size_t length = size * count;
    g_string_append_len(exchange->head, data, (gssize)MIN(length, HEAD_MAX));
    if (exchange->head->len > HEAD_MAX)
        g_string_erase(exchange->head, 0, (gssize)(exchange->head->len - HEAD_MAX));
    return length;
}

static bool set_imap(Exchange *exchange)
{
    CURL *easy = exchange->easy;
    const char *command = exchange->request->method;
    return set_mail(exchange) &&
           curl_easy_setopt(easy, CURLOPT_HEADERFUNCTION, take_head_line) == CURLE_OK &&
           curl_easy_setopt(easy, CURLOPT_HEADERDATA, exchange) == CURLE_OK &&
           curl_easy_setopt(easy, CURLOPT_BUFFERSIZE, (long)LINE_BUFFER) == CURLE_OK &&
           (command == NULL || curl_easy_setopt(easy, CURLOPT_CUSTOMREQUEST, command) == CURLE_OK);
}

bool exchange_set_up_mail(Exchange *exchange)
{
    return exchange->request->kind == EXCHANGE_SMTP ? set_smtp(exchange) : set_imap(exchange);
}
