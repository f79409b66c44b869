/* SPDX-License-Identifier: Apache-2.0 */
/* What the end of an exchange means. */
#include <string.h>

#include "adapters/net/curl_inside.h"

enum { RETRY_AFTER_S_MAX = 7 * 86400, WHY_MAX = 300 };

/* One line of valid UTF-8 without control characters: parts of it may come from the other side. */
static char *one_line(const char *text)
{
    g_autofree char *cut = g_strndup(text, WHY_MAX);
    char *line = g_utf8_make_valid(cut, -1);
    for (char *at = line; *at != '\0'; at++)
        if (g_ascii_iscntrl(*at)) *at = ' ';
    return g_strchomp(line);
}

static char *reason(Exchange *exchange, CURLcode code)
{
    if (exchange->end_passed) return g_strdup("its end has passed");
    if (exchange->repeat_refused)
        return g_strdup("the connection ended before an answer came; not sent a second time");
    if (exchange->outside_refused)
        return g_strdup("only the loopback may be reached, and this address is not on it");
    if (exchange->answer_too_large)
        return g_strdup_printf("answer larger than %zu bytes", exchange->request->answer_max);
    return one_line(exchange->why[0] != '\0' ? exchange->why : curl_easy_strerror(code));
}

/* The mark of an end: after it, nothing of the exchange leaves any more. */
static WireResponse *failed(Exchange *exchange, const char *why)
{
    uv_mutex_lock(&exchange->lock);
    exchange->stopped = true;
    bool left = exchange->request->kind == EXCHANGE_SMTP
                    ? exchange->mail_drained
                    : exchange->sends > 0 && !exchange_wrote_nothing(exchange);
    bool end_passed = exchange->end_passed;
    uv_mutex_unlock(&exchange->lock);
    WireResponse *response =
        wire_response_new(left ? PHASE_UNSURE : PHASE_NEVER_LEFT, 0, NULL, why);
    response->end_passed = end_passed;
    response->too_large = exchange->answer_too_large;
    return response;
}

/* No name, no route, nobody who takes the connection, or time that ran out before one stood. */
static bool is_unreachable(Exchange *exchange, CURLcode code)
{
    curl_off_t connected_us = 0;

    if (code == CURLE_COULDNT_RESOLVE_HOST || code == CURLE_COULDNT_CONNECT)
        return !exchange->outside_refused;
    if (code != CURLE_OPERATION_TIMEDOUT) return false;
    curl_easy_getinfo(exchange->easy, CURLINFO_CONNECT_TIME_T, &connected_us);
    return connected_us == 0;
}

static void put_answer(WireResponse *response, const Exchange *exchange)
{
    g_bytes_unref(response->body);
    response->body = g_bytes_new(exchange->answer->data, exchange->answer->len);
}

static WireResponse *answered(Exchange *exchange, long status)
{
    WireResponse *response = wire_response_new(PHASE_ANSWERED, status, NULL, NULL);
    put_answer(response, exchange);
    return response;
}

static long status_of(Exchange *exchange)
{
    long status = 0;
    curl_easy_getinfo(exchange->easy, CURLINFO_RESPONSE_CODE, &status);
    return status;
}

/* "Cert:-----BEGIN CERTIFICATE----- ..." of the first of the chain (g_free), or NULL. */
static char *certificate_of(CURL *easy)
{
    struct curl_certinfo *info = NULL;
    if (curl_easy_getinfo(easy, CURLINFO_CERTINFO, &info) != CURLE_OK || info == NULL ||
        info->num_of_certs < 1)
        return NULL;
    for (struct curl_slist *line = info->certinfo[0]; line != NULL; line = line->next)
        if (g_str_has_prefix(line->data, "Cert:")) return g_strdup(line->data + strlen("Cert:"));
    return NULL;
}

static WireResponse *http_outcome(Exchange *exchange, CURLcode code)
{
    if (code != CURLE_OK) return NULL;
    CURL *easy = exchange->easy;
    WireResponse *response = answered(exchange, status_of(exchange));
    char *content_type = NULL;
    curl_easy_getinfo(easy, CURLINFO_CONTENT_TYPE, &content_type);
    if (content_type != NULL) response->content_type = one_line(content_type);
    if (exchange->request->look) response->certificate = certificate_of(easy);
    struct curl_header *header;
    curl_off_t wait_s = 0;
    if (curl_easy_header(easy, "Retry-After", 0, CURLH_HEADER, -1, &header) == CURLHE_OK &&
        curl_easy_getinfo(easy, CURLINFO_RETRY_AFTER, &wait_s) == CURLE_OK)
        response->retry_after_s = CLAMP(wait_s, 0, RETRY_AFTER_S_MAX);
    return response;
}

/* A refusal of the message itself is an answer. A refusal before the envelope (greeting, TLS,
 * log-in) speaks of the session: nothing left, and the status says why. */
static WireResponse *smtp_outcome(Exchange *exchange, CURLcode code)
{
    long status = status_of(exchange);
    if (code == CURLE_OK) return answered(exchange, status);
    if (status < 400 || status > 599 || exchange->end_passed) return NULL;
    if (exchange->sends > 0) return answered(exchange, status);
    g_autofree char *reply = g_strndup((const char *)exchange->answer->data, exchange->answer->len);
    g_autofree char *why = one_line(reply);
    WireResponse *response = failed(exchange, why);
    response->status = status;
    return response;
}

/* A message that is not there is a whole answer, an empty one: libcurl says so also of a server that refused, which the
 * head then tells. Of one that is too large the beginning is kept. */
static WireResponse *imap_outcome(Exchange *exchange, CURLcode code)
{
    bool whole = code == CURLE_OK || code == CURLE_REMOTE_FILE_NOT_FOUND;
    g_autofree char *why = whole ? NULL : reason(exchange, code);
    WireResponse *response = whole ? answered(exchange, 0) : failed(exchange, why);
    if (exchange->answer_too_large) put_answer(response, exchange);
    response->head = g_utf8_make_valid(exchange->head->str, (gssize)exchange->head->len);
    return response;
}

WireResponse *exchange_outcome(Exchange *exchange, CURLcode code)
{
    WireResponse *response = NULL;
    switch (exchange->request->kind) {
    case EXCHANGE_HTTP: response = http_outcome(exchange, code); break;
    case EXCHANGE_SMTP: response = smtp_outcome(exchange, code); break;
    case EXCHANGE_IMAP: response = imap_outcome(exchange, code); break;
    case EXCHANGE_KNOCK: response = code == CURLE_OK ? answered(exchange, 0) : NULL; break;
    }
    if (response != NULL) return response;
    g_autofree char *why = reason(exchange, code);
    response = failed(exchange, why);
    response->unreachable = response->phase == PHASE_NEVER_LEFT && is_unreachable(exchange, code);
    return response;
}

WireResponse *exchange_stop(Exchange *exchange, const char *why)
{
    return failed(exchange, why);
}

void exchange_free(Exchange *exchange)
{
    wire_request_free(exchange->request);
    curl_slist_free_all(exchange->headers);
    curl_slist_free_all(exchange->recipients);
    g_byte_array_unref(exchange->answer);
    g_string_free(exchange->head, TRUE);
    uv_mutex_destroy(&exchange->lock);
    g_free(exchange);
}
