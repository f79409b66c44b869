/* SPDX-License-Identifier: Apache-2.0 */
/* One exchange as libcurl sees it: its options, its callbacks, and what its end means.
 *
 * The hard question is whether a byte of the request can have reached the other side. For HTTP the
 * pre-request callback answers it: it is called on a ready connection just before the request, so
 * what fails before has not left. It is also called before libcurl's silent second try on a fresh
 * connection, which is refused where a repeat would do harm. A try of which the kernel took no byte is none: libcurl 7.88 takes
 * a kept connection that was reset for a living one, and then fails to write to it. For SMTP a message counts as handed
 * over only after its final dot, which libcurl sends after it has read the last byte. */
#include <string.h>

#include "adapters/net/curl_inside.h"

enum {
    CONNECT_MS_MAX = 10 * 1000,
    TIMEOUT_MS_DEFAULT = 30 * 1000,
    URL_MAX = 8192,
    SENDS_MAX = 2, /* of a repeatable request */
    IDLE_S_UNREPEATABLE =
        4, /* servers drop idle connections, often after 5 s; such a race would leave us unsure */
};

static bool has_control(const char *text)
{
    for (const char *at = text; at != NULL && *at != '\0'; at++)
        if (g_ascii_iscntrl(*at)) return true;
    return false;
}

static bool is_envelope_address(const char *address)
{
    return address != NULL && *address != '\0' && !has_control(address) &&
           strpbrk(address, " <>") == NULL;
}

static char *mail_fault(const WireRequest *request)
{
    if (request->body == NULL) return g_strdup("a mail needs a message");
    if (!is_envelope_address(request->mail_from))
        return g_strdup_printf("'%s' cannot be an envelope's sender",
                               request->mail_from ? request->mail_from : "");
    if (request->mail_to == NULL || request->mail_to->len == 0)
        return g_strdup("a mail needs a recipient");
    for (guint i = 0; i < request->mail_to->len; i++)
        if (!is_envelope_address(request->mail_to->pdata[i]))
            return g_strdup_printf("'%s' cannot be an envelope's recipient",
                                   (char *)request->mail_to->pdata[i]);
    return NULL;
}

char *exchange_fault(const Exchange *exchange)
{
    const WireRequest *request = exchange->request;
    if (request->url == NULL || has_control(request->url) || strlen(request->url) > URL_MAX)
        return g_strdup("the address is missing, too long or holds control characters");
    if (has_control(request->method) || has_control(request->user) ||
        has_control(request->password))
        return g_strdup("a method, user or password may not hold control characters");
    for (guint i = 0; i < request->headers->len; i++)
        if (strpbrk(request->headers->pdata[i], "\r\n") != NULL ||
            strchr(request->headers->pdata[i], ':') == NULL)
            return g_strdup("a header line must be 'Name: value' on one line");
    return request->kind == EXCHANGE_SMTP ? mail_fault(request) : NULL;
}

bool exchange_is_late(const Exchange *exchange)
{
    const NetCurlOptions *options = &exchange->net->options;
    return exchange->request->end_ms != 0 &&
           options->wall_ms(options->wall_context) > exchange->request->end_ms;
}

bool exchange_wrote_nothing(const Exchange *exchange)
{
    long written = 0;

    return exchange->request->kind == EXCHANGE_HTTP && exchange->easy != NULL &&
           curl_easy_getinfo(exchange->easy, CURLINFO_REQUEST_SIZE, &written) == CURLE_OK &&
           written == 0;
}

static int before_send(void *context, char *to, char *from, int to_port, int from_port)
{
    (void)to;
    (void)from;
    (void)to_port;
    (void)from_port;
    Exchange *exchange = context;
    uv_mutex_lock(&exchange->lock);
    if (exchange_wrote_nothing(exchange)) exchange->sends = 0;
    exchange->repeat_refused = exchange->sends >= (exchange->request->repeatable ? SENDS_MAX : 1);
    exchange->end_passed = !exchange->repeat_refused && exchange_is_late(exchange);
    bool pass = !exchange->repeat_refused && !exchange->end_passed && !exchange->stopped;
    if (pass) exchange->sends++;
    uv_mutex_unlock(&exchange->lock);
    return pass ? CURL_PREREQFUNC_OK : CURL_PREREQFUNC_ABORT;
}

static size_t take_answer(char *data, size_t size, size_t count, void *context)
{
    Exchange *exchange = context;
    size_t length = size * count;
    size_t room = exchange->request->answer_max - exchange->answer->len;
    g_byte_array_append(exchange->answer, (const guint8 *)data, (guint)MIN(length, room));
    if (length <= room) return length;
    exchange->answer_too_large = true;
    return 0;
}

/* "Name: " would make libcurl drop the header; its word for an empty value is "Name;". */
static struct curl_slist *append_header(struct curl_slist *list, const char *line)
{
    size_t name = strcspn(line, ":");
    if (line[name + 1 + strspn(line + name + 1, " \t")] != '\0')
        return curl_slist_append(list, line);
    g_autofree char *empty = g_strdup_printf("%.*s;", (int)name, line);
    return curl_slist_append(list, empty);
}

static bool set_http(Exchange *exchange)
{
    CURL *easy = exchange->easy;
    const WireRequest *request = exchange->request;
    const char *method = request->method ? request->method : request->body ? "POST" : "GET";
    bool typed = false;
    for (guint i = 0; i < request->headers->len; i++) {
        const char *line = request->headers->pdata[i];
        typed |= g_ascii_strncasecmp(line, "Content-Type:", strlen("Content-Type:")) == 0;
        exchange->headers = append_header(exchange->headers, line);
    }
    exchange->headers = curl_slist_append(exchange->headers, "Expect:");
    if (!typed) exchange->headers = curl_slist_append(exchange->headers, "Content-Type:");
    bool set =
        curl_easy_setopt(easy, CURLOPT_HTTPHEADER, exchange->headers) == CURLE_OK &&
        curl_easy_setopt(easy, CURLOPT_HTTP_VERSION, (long)CURL_HTTP_VERSION_1_1) == CURLE_OK;
    if (request->body != NULL || strcmp(method, "POST") == 0) {
        size_t length = 0;
        const void *body = request->body ? g_bytes_get_data(request->body, &length) : "";
        set = set && curl_easy_setopt(easy, CURLOPT_POST, 1L) == CURLE_OK &&
              curl_easy_setopt(easy, CURLOPT_POSTFIELDS, body ? body : "") == CURLE_OK &&
              curl_easy_setopt(easy, CURLOPT_POSTFIELDSIZE_LARGE, (curl_off_t)length) == CURLE_OK;
    } else if (strcmp(method, "HEAD") == 0) {
        set = set && curl_easy_setopt(easy, CURLOPT_NOBODY, 1L) == CURLE_OK;
    }
    return set && curl_easy_setopt(easy, CURLOPT_CUSTOMREQUEST, method) == CURLE_OK &&
           curl_easy_setopt(easy, CURLOPT_UNIX_SOCKET_PATH, request->unix_socket) == CURLE_OK &&
           (request->repeatable ||
            curl_easy_setopt(easy, CURLOPT_MAXAGE_CONN, (long)IDLE_S_UNREPEATABLE) == CURLE_OK);
}

static bool set_blob(CURL *easy, CURLoption option, const char *text)
{
    struct curl_blob blob = {.data = (void *)text, .len = strlen(text), .flags = CURL_BLOB_COPY};
    return curl_easy_setopt(easy, option, &blob) == CURLE_OK;
}

/* A side that is known by its key needs no issuer, and no name. A look keeps no connection that a later request could take
 * for a trusted one. */
static bool set_trust(CURL *easy, const WireRequest *request)
{
    bool set = true;
    if (request->pin != NULL || request->look)
        set = curl_easy_setopt(easy, CURLOPT_SSL_VERIFYPEER, 0L) == CURLE_OK &&
              curl_easy_setopt(easy, CURLOPT_SSL_VERIFYHOST, 0L) == CURLE_OK &&
              curl_easy_setopt(easy, CURLOPT_SSLVERSION, (long)CURL_SSLVERSION_TLSv1_3) == CURLE_OK;
    if (request->pin != NULL)
        set = set && curl_easy_setopt(easy, CURLOPT_PINNEDPUBLICKEY, request->pin) == CURLE_OK;
    if (request->look)
        set = set && curl_easy_setopt(easy, CURLOPT_CERTINFO, 1L) == CURLE_OK &&
              curl_easy_setopt(easy, CURLOPT_FRESH_CONNECT, 1L) == CURLE_OK &&
              curl_easy_setopt(easy, CURLOPT_FORBID_REUSE, 1L) == CURLE_OK;
    if (request->certificate != NULL && request->key != NULL)
        set = set && set_blob(easy, CURLOPT_SSLCERT_BLOB, request->certificate) &&
              set_blob(easy, CURLOPT_SSLKEY_BLOB, request->key);
    return set;
}

bool exchange_set_up(Exchange *exchange)
{
    static const char *const protocols[] = {[EXCHANGE_HTTP] = "http,https",
                                            [EXCHANGE_SMTP] = "smtp,smtps",
                                            [EXCHANGE_IMAP] = "imap,imaps",
                                            [EXCHANGE_KNOCK] = "http"};
    CURL *easy = exchange->easy;
    const WireRequest *request = exchange->request;
    const char *ca_file = exchange->net->options.ca_file;
    long timeout_ms =
        request->timeout_ms > 0 ? (long)MIN(request->timeout_ms, INT32_MAX) : TIMEOUT_MS_DEFAULT;
    bool set =
        curl_easy_setopt(easy, CURLOPT_PROTOCOLS_STR, protocols[request->kind]) == CURLE_OK &&
        curl_easy_setopt(easy, CURLOPT_URL, request->url) == CURLE_OK &&
        curl_easy_setopt(easy, CURLOPT_PRIVATE, exchange) == CURLE_OK &&
        curl_easy_setopt(easy, CURLOPT_ERRORBUFFER, exchange->why) == CURLE_OK &&
        curl_easy_setopt(easy, CURLOPT_NOSIGNAL, 1L) == CURLE_OK &&
        curl_easy_setopt(easy, CURLOPT_PROXY, "") == CURLE_OK &&
        curl_easy_setopt(easy, CURLOPT_FOLLOWLOCATION, 0L) == CURLE_OK &&
        curl_easy_setopt(easy, CURLOPT_TIMEOUT_MS, timeout_ms) == CURLE_OK &&
        curl_easy_setopt(easy, CURLOPT_CONNECTTIMEOUT_MS, MIN(timeout_ms, CONNECT_MS_MAX)) ==
            CURLE_OK &&
        curl_easy_setopt(easy, CURLOPT_OPENSOCKETFUNCTION, socket_open) == CURLE_OK &&
        curl_easy_setopt(easy, CURLOPT_OPENSOCKETDATA, exchange) == CURLE_OK &&
        curl_easy_setopt(easy, CURLOPT_CLOSESOCKETFUNCTION, socket_close) == CURLE_OK &&
        curl_easy_setopt(easy, CURLOPT_CLOSESOCKETDATA, exchange->net) == CURLE_OK &&
        curl_easy_setopt(easy, CURLOPT_PREREQFUNCTION, before_send) == CURLE_OK &&
        curl_easy_setopt(easy, CURLOPT_PREREQDATA, exchange) == CURLE_OK &&
        curl_easy_setopt(easy, CURLOPT_WRITEFUNCTION, take_answer) == CURLE_OK &&
        curl_easy_setopt(easy, CURLOPT_WRITEDATA, exchange) == CURLE_OK &&
        (ca_file == NULL || curl_easy_setopt(easy, CURLOPT_CAINFO, ca_file) == CURLE_OK);
    set = set && set_trust(easy, request);
    switch (request->kind) {
    case EXCHANGE_HTTP: return set && set_http(exchange);
    case EXCHANGE_KNOCK:
        return set && curl_easy_setopt(easy, CURLOPT_CONNECT_ONLY, 1L) == CURLE_OK &&
               curl_easy_setopt(easy, CURLOPT_FRESH_CONNECT, 1L) == CURLE_OK &&
               curl_easy_setopt(easy, CURLOPT_FORBID_REUSE, 1L) == CURLE_OK;
    case EXCHANGE_SMTP:
    case EXCHANGE_IMAP: return set && exchange_set_up_mail(exchange);
    }
    g_assert_not_reached();
}
