/* SPDX-License-Identifier: Apache-2.0 */
/* SMTP and IMAP. libcurl 7.88 waits for the reply to a message's final dot, and for that to its
 * goodbye, without giving the thread back, multi interface or not; a mail server that thinks for
 * ten seconds would hold the loop for as long. So these exchanges have a few threads of their own:
 * not libuv's, which draw and read mail, and which a server that hangs would take away. A thread
 * that has ended one exchange takes the next without a word from the loop, waits a little for more,
 * and ends. A mail that ended well leaves its session to the next; IMAP has one for each exchange. */
#include "adapters/net/curl_inside.h"

enum { THREADS_MAX = 4, KEPT_MS = 2000 };

/* A kept session that the server had ended meanwhile: no word of this mail was answered, or only with 421 (RFC 5321 3.8: the
 * server shuts down the session), and its dot cannot have left. */
static bool was_stale(Exchange *exchange, CURLcode code)
{
    long status = 0;
    curl_easy_getinfo(exchange->easy, CURLINFO_RESPONSE_CODE, &status);
    uv_mutex_lock(&exchange->lock);
    bool again = !exchange->mail_drained && !exchange->stopped && !exchange->end_passed;
    uv_mutex_unlock(&exchange->lock);
    return again && code != CURLE_OK && code != CURLE_OPERATION_TIMEDOUT &&
           (exchange->answer->len == 0 || status == 421);
}

static void forget_try(Exchange *exchange)
{
    exchange->mail_read = 0;
    exchange->reply_whole = false;
    exchange->why[0] = '\0';
    g_byte_array_set_size(exchange->answer, 0);
    uv_mutex_lock(&exchange->lock);
    exchange->sends = 0;
    uv_mutex_unlock(&exchange->lock);
}

static CURLcode perform(Exchange *exchange, bool kept)
{
    CURLcode code = curl_easy_perform(exchange->easy);
    if (!kept || !was_stale(exchange, code)) return code;
    forget_try(exchange);
    curl_easy_setopt(exchange->easy, CURLOPT_FRESH_CONNECT, 1L);
    return curl_easy_perform(exchange->easy);
}

static bool ended_well(const Exchange *exchange, const WireResponse *response)
{
    return exchange->request->kind == EXCHANGE_SMTP && response->phase == PHASE_ANSWERED &&
           response->status >= 200 && response->status <= 299;
}

static WireResponse *carry(Exchange *exchange)
{
    bool kept = exchange->session != NULL;
    if (exchange_is_late(exchange)) {
        exchange->end_passed = true;
        return exchange_stop(exchange, "its end has passed");
    }
    exchange->easy = kept ? session_handle(g_steal_pointer(&exchange->session)) : curl_easy_init();
    if (exchange->easy == NULL || !exchange_set_up(exchange)) {
        session_end(exchange->easy);
        return exchange_stop(exchange, "libcurl cannot begin this exchange");
    }
    CURLcode code = perform(exchange, kept);
    WireResponse *response = exchange_outcome(exchange, code);
    if (code == CURLE_OK && ended_well(exchange, response))
        exchange->session = session_left(exchange->easy, exchange->request);
    else
        session_end(exchange->easy);
    return response;
}

/* --- a thread ------------------------------------------------------------------------------- */

/* The next exchange; NULL where none came in time. With the room locked. */
static Exchange *wait_for_mail(Mailroom *room)
{
    uint64_t until_ns = uv_hrtime() + KEPT_MS * UINT64_C(1000000), now_ns;
    room->idle++;
    while (room->waiting.length == 0 && !room->closing && (now_ns = uv_hrtime()) < until_ns)
        uv_cond_timedwait(&room->come, &room->lock, until_ns - now_ns);
    room->idle--;
    return g_queue_pop_head(&room->waiting);
}

/* One exchange from its turn to its end. With the room locked, which it is not meanwhile. */
static void see_through(Mailroom *room, Exchange *exchange)
{
    g_queue_push_tail(&room->running, exchange);
    exchange->session = session_take(room, exchange->request);
    uv_mutex_unlock(&room->lock);
    exchange->response = carry(exchange);
    uv_mutex_lock(&room->lock);
    g_queue_remove(&room->running, exchange);
    g_queue_push_tail(&room->ended, exchange);
    if (exchange->session != NULL)
        g_queue_push_head(&room->sessions, g_steal_pointer(&exchange->session));
    uv_async_send(&room->told);
}

/* Whoever leaves ends the session that was used longest ago; the last ends all. With the room locked, which it is not
 * meanwhile. */
static void part_sessions(Mailroom *room)
{
    bool last = room->threads == 0;
    for (Session *session; (session = g_queue_pop_tail(&room->sessions)) != NULL;) {
        uv_mutex_unlock(&room->lock);
        session_part(session);
        uv_mutex_lock(&room->lock);
        if (!last) return;
    }
}

static void *serve(void *context)
{
    Mailroom *room = &((NetCurl *)context)->mail;
    uv_mutex_lock(&room->lock);
    for (Exchange *exchange; (exchange = wait_for_mail(room)) != NULL;)
        see_through(room, exchange);
    room->threads--;
    part_sessions(room);
    g_queue_push_tail(&room->over, g_thread_self());
    uv_async_send(&room->told);
    uv_mutex_unlock(&room->lock);
    return NULL;
}

/* --- the loop ------------------------------------------------------------------------------- */

static void *take_from(Mailroom *room, GQueue *queue)
{
    uv_mutex_lock(&room->lock);
    void *first = g_queue_pop_head(queue);
    uv_mutex_unlock(&room->lock);
    return first;
}

static void deliver(Exchange *exchange)
{
    Mailroom *room = &exchange->net->mail;
    if (--room->untold == 0 && !room->closing) uv_unref((uv_handle_t *)&room->told);
    if (!exchange->told) {
        exchange_deliver(exchange, exchange->response);
        return;
    }
    wire_response_free(exchange->response);
    exchange_free(exchange);
}

static void room_closed(uv_handle_t *handle)
{
    NetCurl *net = handle->data;
    uv_mutex_destroy(&net->mail.lock);
    uv_cond_destroy(&net->mail.come);
    net_curl_let_go(net);
}

static void close_if_left(Mailroom *room)
{
    if (room->closing && room->unjoined.length == 0 && !uv_is_closing((uv_handle_t *)&room->told))
        uv_close((uv_handle_t *)&room->told, room_closed);
}

static void hear(uv_async_t *told)
{
    NetCurl *net = told->data;
    Mailroom *room = &net->mail;
    for (Exchange *exchange; (exchange = take_from(room, &room->ended)) != NULL;)
        deliver(exchange);
    for (GThread *thread; (thread = take_from(room, &room->over)) != NULL; g_thread_join(thread))
        g_queue_remove(&room->unjoined, thread);
    close_if_left(room);
}

void mail_submit(Exchange *exchange)
{
    NetCurl *net = exchange->net;
    Mailroom *room = &net->mail;
    if (room->untold++ == 0) uv_ref((uv_handle_t *)&room->told);
    uv_mutex_lock(&room->lock);
    g_queue_push_tail(&room->waiting, exchange);
    if ((int)room->waiting.length > room->idle && room->threads < THREADS_MAX) {
        room->threads++;
        g_queue_push_tail(&room->unjoined, g_thread_new("mail", serve, net));
    }
    uv_cond_signal(&room->come);
    uv_mutex_unlock(&room->lock);
}

/* What is told here is freed once its thread is done with it. */
static void tell_running(Mailroom *room)
{
    uv_mutex_lock(&room->lock);
    g_autoptr(GList) running = g_list_copy(room->running.head);
    uv_mutex_unlock(&room->lock);
    for (GList *at = running; at != NULL; at = at->next)
        exchange_tell(at->data, exchange_stop(at->data, "stopped with the carrier"));
}

void mail_abandon(NetCurl *net)
{
    Mailroom *room = &net->mail;
    uv_mutex_lock(&room->lock);
    room->closing = true;
    GQueue waiting = room->waiting;
    g_queue_init(&room->waiting);
    uv_cond_broadcast(&room->come);
    uv_mutex_unlock(&room->lock);
    uv_ref((uv_handle_t *)&room->told);
    tell_running(room);
    for (Exchange *exchange; (exchange = g_queue_pop_head(&waiting)) != NULL;)
        exchange_deliver(exchange, exchange_stop(exchange, "stopped with the carrier"));
    for (Exchange *exchange; (exchange = take_from(room, &room->ended)) != NULL;)
        deliver(exchange);
    close_if_left(room);
}

void mail_set_up(NetCurl *net)
{
    Mailroom *room = &net->mail;
    uv_async_init(net->loop, &room->told, hear);
    uv_unref((uv_handle_t *)&room->told);
    room->told.data = net;
    net->held++;
    g_assert(uv_mutex_init(&room->lock) == 0);
    g_assert(uv_cond_init(&room->come) == 0);
    g_queue_init(&room->unjoined);
    g_queue_init(&room->waiting);
    g_queue_init(&room->running);
    g_queue_init(&room->ended);
    g_queue_init(&room->over);
    g_queue_init(&room->sessions);
}
