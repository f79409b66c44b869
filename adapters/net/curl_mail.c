/* SPDX-License-Identifier: Apache-2.0 */
/* SMTP and IMAP. libcurl 7.88 waits for the reply to a message's final dot, and for that to its
 * goodbye, without giving the thread back, multi interface or not; a mail server that thinks for
 * ten seconds would hold the loop for as long. So each of these exchanges has a worker of libuv's
 * to itself. Workers are few and shared (with the file system), and mail is rare: two at once are
 * enough. A mail that ended well leaves its session to the next; IMAP has one for each exchange. */
#include "adapters/net/curl_inside.h"

enum { WORKERS_MAX = 2 };

/* A kept session that the server had ended meanwhile: no word of this mail was answered, or only with 421 (RFC 5321 3.8: the
 * server shuts down the session), and its dot cannot have left. */
static bool was_stale(Exchange *exchange, CURLcode code)
{
    long status = 0;
    curl_easy_getinfo(exchange->easy, CURLINFO_RESPONSE_CODE, &status);
    g_mutex_lock(&exchange->lock);
    bool again = !exchange->mail_drained && !exchange->stopped && !exchange->end_passed;
    g_mutex_unlock(&exchange->lock);
    return again && code != CURLE_OK && code != CURLE_OPERATION_TIMEDOUT &&
           (exchange->answer->len == 0 || status == 421);
}

static void forget_try(Exchange *exchange)
{
    exchange->mail_read = 0;
    exchange->reply_whole = false;
    exchange->why[0] = '\0';
    g_byte_array_set_size(exchange->answer, 0);
    g_mutex_lock(&exchange->lock);
    exchange->sends = 0;
    g_mutex_unlock(&exchange->lock);
}

static CURLcode perform(Exchange *exchange, bool kept)
{
    CURLcode code = curl_easy_perform(exchange->easy);
    if (!kept || !was_stale(exchange, code)) return code;
    forget_try(exchange);
    curl_easy_setopt(exchange->easy, CURLOPT_FRESH_CONNECT, 1L);
    return curl_easy_perform(exchange->easy);
}

static bool ended_well(const Exchange *exchange)
{
    const WireResponse *response = exchange->response;
    return exchange->request->kind == EXCHANGE_SMTP && response->phase == PHASE_ANSWERED &&
           response->status >= 200 && response->status <= 299;
}

static void work(uv_work_t *job)
{
    Exchange *exchange = job->data;
    bool kept = exchange->session != NULL;
    exchange->easy = kept ? session_handle(g_steal_pointer(&exchange->session)) : curl_easy_init();
    if (exchange->easy == NULL || !exchange_set_up(exchange)) {
        exchange->response = exchange_stop(exchange, "libcurl cannot begin this exchange");
    } else {
        CURLcode code = perform(exchange, kept);
        exchange->response = exchange_outcome(exchange, code);
        if (code == CURLE_OK && ended_well(exchange))
            exchange->session = session_left(g_steal_pointer(&exchange->easy), exchange->request);
    }
    session_end(exchange->easy);
}

static void worked(uv_work_t *job, int status)
{
    (void)status;
    Exchange *exchange = job->data;
    NetCurl *net = exchange->net;
    g_queue_remove(&net->mail_running, exchange);
    if (exchange->session != NULL) session_keep(net, g_steal_pointer(&exchange->session));
    if (exchange->told) {
        wire_response_free(exchange->response);
        exchange_free(exchange);
    } else {
        exchange_deliver(exchange, exchange->response);
    }
    if (!net->closing) mail_start_waiting(net);
    net_curl_let_go(net);
}

void mail_start_waiting(NetCurl *net)
{
    while (net->mail_waiting.length > 0 && net->mail_running.length < WORKERS_MAX) {
        Exchange *exchange = g_queue_pop_head(&net->mail_waiting);
        exchange->end_passed = exchange_is_late(exchange);
        exchange->work.data = exchange;
        if (exchange->end_passed) {
            exchange_end_later(exchange, exchange_stop(exchange, "its end has passed"));
            continue;
        }
        exchange->session = session_take(net, exchange->request);
        int queued = uv_queue_work(net->loop, &exchange->work, work, worked);
        g_assert(queued == 0); /* it is refused only where there is no function */
        g_queue_push_tail(&net->mail_running, exchange);
        net->held++;
    }
}

void mail_abandon(NetCurl *net)
{
    for (Exchange *exchange; (exchange = g_queue_pop_head(&net->mail_running)) != NULL;)
        exchange_tell(exchange, exchange_stop(exchange, "stopped with the carrier"));
    for (Exchange *exchange; (exchange = g_queue_pop_head(&net->mail_waiting)) != NULL;)
        exchange_deliver(exchange, exchange_stop(exchange, "stopped with the carrier"));
    sessions_part(net);
}
