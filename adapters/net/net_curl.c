/* SPDX-License-Identifier: Apache-2.0 */
/* The carrier: libcurl's multi interface, told of ready sockets and passed time by libuv. An
 * exchange waits for a place, runs, and ends; its done callback is called from the loop only.
 * Nothing of libcurl is entered from within one of its own callbacks: these only note what is to be
 * done. */
#include "adapters/net/net_curl.h"

#include <unistd.h>

#include "adapters/net/curl_inside.h"

static CURL *easy_take(NetCurl *net)
{
    if (net->spare->len == 0) return curl_easy_init();
    return g_ptr_array_steal_index_fast(net->spare, net->spare->len - 1);
}

static void easy_put(NetCurl *net, CURL *easy)
{
    curl_easy_reset(easy);
    g_ptr_array_add(net->spare, easy);
}

void exchange_tell(Exchange *exchange, WireResponse *response)
{
    exchange->told = true;
    exchange->done(response, exchange->context);
    exchange->net->in_flight--;
}

void exchange_deliver(Exchange *exchange, WireResponse *response)
{
    exchange_tell(exchange, response);
    exchange_free(exchange);
}

static void deliver_late(uv_timer_t *timer)
{
    NetCurl *net = timer->data;
    for (guint left = net->ended.length; left > 0 && net->ended.length > 0; left--) {
        Exchange *exchange = g_queue_pop_head(&net->ended);
        exchange_deliver(exchange, exchange->response);
    }
    if (!net->closing && net->ended.length > 0) uv_timer_start(&net->late, deliver_late, 0, 0);
}

void exchange_end_later(Exchange *exchange, WireResponse *response)
{
    exchange->response = response;
    g_queue_push_tail(&exchange->net->ended, exchange);
    if (!exchange->net->closing) uv_timer_start(&exchange->net->late, deliver_late, 0, 0);
}

static void start(Exchange *exchange)
{
    NetCurl *net = exchange->net;
    if (exchange_is_late(exchange)) {
        exchange->end_passed = true;
        exchange_end_later(exchange, exchange_stop(exchange, "its end has passed"));
        return;
    }
    exchange->easy = easy_take(net);
    if (exchange->easy == NULL || !exchange_set_up(exchange) ||
        curl_multi_add_handle(net->multi, exchange->easy) != CURLM_OK) {
        if (exchange->easy != NULL) easy_put(net, g_steal_pointer(&exchange->easy));
        exchange_end_later(exchange, exchange_stop(exchange, "libcurl cannot begin this exchange"));
        return;
    }
    g_queue_push_tail(&net->running, exchange);
}

static void start_waiting(NetCurl *net)
{
    while (!net->closing && net->waiting.length > 0 &&
           (long)net->running.length < net->options.connections_max)
        start(g_queue_pop_head(&net->waiting));
}

static void submit(Net *port, WireRequest *request, NetDone *done, void *context)
{
    NetCurl *net = (NetCurl *)port;
    Exchange *exchange = g_new0(Exchange, 1);
    exchange->net = net;
    exchange->request = request;
    exchange->done = done;
    exchange->context = context;
    exchange->answer = g_byte_array_new();
    exchange->head = g_string_new(NULL);
    g_assert(uv_mutex_init(&exchange->lock) == 0);
    net->in_flight++;

    g_autofree char *fault =
        net->closing ? g_strdup("the carrier is closing") : exchange_fault(exchange);
    if (fault != NULL) {
        exchange_end_later(exchange, exchange_stop(exchange, fault));
        return;
    }
    bool mail = request->kind == EXCHANGE_SMTP || request->kind == EXCHANGE_IMAP;
    if (mail) {
        mail_submit(exchange);
        return;
    }
    g_queue_push_tail(&net->waiting, exchange);
    start_waiting(net);
}

static int in_flight(const Net *port)
{
    return ((const NetCurl *)port)->in_flight;
}

/* Takes a running exchange from libcurl. */
static void detach(Exchange *exchange)
{
    NetCurl *net = exchange->net;
    g_queue_remove(&net->running, exchange);
    curl_multi_remove_handle(net->multi, exchange->easy);
    /* A connection that was only made lives on with its handle. */
    if (exchange->request->kind == EXCHANGE_KNOCK)
        curl_easy_cleanup(g_steal_pointer(&exchange->easy));
    else
        easy_put(net, g_steal_pointer(&exchange->easy));
}

/* libcurl asks that its handle be emptied after an error of the multi interface itself. */
static void abandon_running(NetCurl *net, const char *why)
{
    for (guint left = net->running.length; left > 0 && net->running.length > 0; left--) {
        Exchange *exchange = g_queue_peek_head(&net->running);
        WireResponse *response = exchange_stop(exchange, why);
        detach(exchange);
        exchange_deliver(exchange, response);
    }
}

static void collect(NetCurl *net)
{
    int left;
    for (CURLMsg *message;
         !net->closing && (message = curl_multi_info_read(net->multi, &left)) != NULL;) {
        if (message->msg != CURLMSG_DONE) continue;
        CURLcode code = message->data.result;
        Exchange *exchange;
        curl_easy_getinfo(message->easy_handle, CURLINFO_PRIVATE, &exchange);
        WireResponse *response = exchange_outcome(exchange, code);
        detach(exchange);
        exchange_deliver(exchange, response);
    }
    start_waiting(net);
}

void net_curl_act(NetCurl *net, curl_socket_t fd, int flags)
{
    int running;
    CURLMcode code = curl_multi_socket_action(net->multi, fd, flags, &running);
    if (code != CURLM_OK) abandon_running(net, curl_multi_strerror(code));
    collect(net);
}

static void timer_fired(uv_timer_t *timer);

/* The loop's idea of now may be some milliseconds old, and libcurl takes a timer that fires too early for none at all: it
 * neither acts nor asks again. */
static void arm(NetCurl *net, long timeout_ms)
{
    uv_update_time(net->loop);
    uv_timer_start(&net->timer, timer_fired, timeout_ms > 0 ? (uint64_t)timeout_ms + 1 : 0, 0);
}

static void timer_fired(uv_timer_t *timer)
{
    NetCurl *net = timer->data;
    long left_ms = -1;

    net_curl_act(net, CURL_SOCKET_TIMEOUT, 0);
    if (net->closing || uv_is_active((uv_handle_t *)timer)) return;
    if (curl_multi_timeout(net->multi, &left_ms) == CURLM_OK && left_ms >= 0)
        arm(net, MAX(left_ms, 1));
}

static int timer_set(CURLM *multi, long timeout_ms, void *context)
{
    (void)multi;
    NetCurl *net = context;
    if (timeout_ms < 0)
        uv_timer_stop(&net->timer);
    else
        arm(net, timeout_ms);
    return 0;
}

void net_curl_let_go(NetCurl *net)
{
    if (--net->held > 0) return;
    g_hash_table_unref(net->watches);
    g_free((char *)net->options.ca_file);
    g_free(net);
    curl_global_cleanup();
}

static void timer_closed(uv_handle_t *handle)
{
    net_curl_let_go(handle->data);
}

static void shut(Net *port)
{
    NetCurl *net = (NetCurl *)port;
    net->closing = true;
    abandon_running(net, "stopped with the carrier");
    for (Exchange *exchange; (exchange = g_queue_pop_head(&net->waiting)) != NULL;)
        exchange_deliver(exchange, exchange_stop(exchange, "stopped with the carrier"));
    mail_abandon(net);
    for (Exchange *exchange; (exchange = g_queue_pop_head(&net->ended)) != NULL;)
        exchange_deliver(exchange, exchange->response);
    for (guint i = 0; i < net->spare->len; i++)
        curl_easy_cleanup(net->spare->pdata[i]);
    g_ptr_array_unref(net->spare);
    curl_multi_cleanup(net->multi);
    sockets_forget(net);
    uv_close((uv_handle_t *)&net->timer, timer_closed);
    uv_close((uv_handle_t *)&net->late, timer_closed);
}

static CURLM *multi_new(NetCurl *net)
{
    CURLM *multi = curl_multi_init();
    if (multi == NULL) return NULL;
    long most = net->options.connections_max;
    bool set = curl_multi_setopt(multi, CURLMOPT_SOCKETFUNCTION, socket_watch) == CURLM_OK &&
               curl_multi_setopt(multi, CURLMOPT_SOCKETDATA, net) == CURLM_OK &&
               curl_multi_setopt(multi, CURLMOPT_TIMERFUNCTION, timer_set) == CURLM_OK &&
               curl_multi_setopt(multi, CURLMOPT_TIMERDATA, net) == CURLM_OK &&
               curl_multi_setopt(multi, CURLMOPT_MAXCONNECTS, most) == CURLM_OK &&
               curl_multi_setopt(multi, CURLMOPT_MAX_TOTAL_CONNECTIONS, most) == CURLM_OK;
    if (set) return multi;
    curl_multi_cleanup(multi);
    return NULL;
}

Net *net_curl_new(uv_loop_t *loop, const NetCurlOptions *options, char **why)
{
    g_assert(options->connections_max >= 1 && options->connections_max <= 256);
    if (options->ca_file != NULL && access(options->ca_file, R_OK) != 0) {
        *why =
            g_strdup_printf("certificates '%s' cannot be read; name a PEM file", options->ca_file);
        return NULL;
    }
    if (curl_global_init(CURL_GLOBAL_DEFAULT) != CURLE_OK) {
        *why = g_strdup("libcurl cannot be set up");
        return NULL;
    }
    NetCurl *net = g_new0(NetCurl, 1);
    net->port = (Net){submit, in_flight, shut};
    net->loop = loop;
    net->options = *options;
    net->options.ca_file = g_strdup(options->ca_file);
    net->multi = multi_new(net);
    if (net->multi == NULL) {
        *why = g_strdup("libcurl's multi interface cannot be set up");
        g_free((char *)net->options.ca_file);
        g_free(net);
        curl_global_cleanup();
        return NULL;
    }
    uv_timer_init(loop, &net->timer);
    uv_timer_init(loop, &net->late);
    net->timer.data = net->late.data = net;
    net->held = 2;
    mail_set_up(net);
    net->watches = g_hash_table_new(NULL, NULL);
    net->spare = g_ptr_array_new();
    g_queue_init(&net->waiting);
    g_queue_init(&net->running);
    g_queue_init(&net->ended);
    return &net->port;
}
