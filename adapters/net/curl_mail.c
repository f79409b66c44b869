/* SPDX-License-Identifier: Apache-2.0 */
/* SMTP and IMAP. libcurl 7.88 waits for the reply to a message's final dot, and for that to its
 * goodbye, without giving the thread back, multi interface or not; a mail server that thinks for
 * ten seconds would hold the loop for as long. So each of these exchanges has a worker of libuv's
 * to itself, and a session of its own. Workers are few and shared (with the file system), and mail
 * is rare: two at once are enough. */
#include "adapters/net/curl_inside.h"

enum { WORKERS_MAX = 2 };

static void work(uv_work_t *job)
{
    Exchange *exchange = job->data;
    exchange->easy = curl_easy_init();
    if (exchange->easy == NULL || !exchange_set_up(exchange)) {
        exchange->response = exchange_stop(exchange, "libcurl cannot begin this exchange");
    } else {
        CURLcode code = curl_easy_perform(exchange->easy);
        exchange->response = exchange_outcome(exchange, code);
    }
    curl_easy_cleanup(exchange->easy);
}

static void worked(uv_work_t *job, int status)
{
    (void)status;
    Exchange *exchange = job->data;
    NetCurl *net = exchange->net;
    g_queue_remove(&net->mail_running, exchange);
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
        } else if (uv_queue_work(net->loop, &exchange->work, work, worked) != 0) {
            exchange_end_later(exchange, exchange_stop(exchange, "no worker can be had"));
        } else {
            g_queue_push_tail(&net->mail_running, exchange);
            net->held++;
        }
    }
}

void mail_abandon(NetCurl *net)
{
    for (Exchange *exchange; (exchange = g_queue_pop_head(&net->mail_running)) != NULL;)
        exchange_tell(exchange, exchange_stop(exchange, "stopped with the carrier"));
    for (Exchange *exchange; (exchange = g_queue_pop_head(&net->mail_waiting)) != NULL;)
        exchange_deliver(exchange, exchange_stop(exchange, "stopped with the carrier"));
}
