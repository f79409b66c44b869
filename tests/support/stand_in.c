/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/support/stand_in.h"

#include <stdlib.h>
#include <string.h>

#include "tests/support/http_request.h"
#include "tests/support/script_server.h"

#define INBOX_PAGE 10

struct StandIn {
    StandInMap map;
    GMutex lock;
    GThread *thread;
    uv_loop_t loop;
    uv_async_t stop;
    ScriptServer *http;
    ScriptServer *smtp;
    int http_port;
    int smtp_port;
    GPtrArray *sends; /* of StandInSend */
    GPtrArray *mails;
    json_t *inbox;
    json_t *receipts;
    int polls;
    int asked;
    StandInAnswer answer;
    int answers_left;
    int slow_ms;
};

static void send_free(void *data)
{
    StandInSend *send = data;

    g_free(send->id);
    g_free(send->to);
    g_free(send->text);
    g_free(send);
}

/* --- HTTP --- */

static void say(ScriptPeer *peer, const char *line)
{
    script_say(peer, line, strlen(line));
}

static void say_answer(ScriptPeer *peer, int status, const char *type, const char *body)
{
    g_autofree char *text =
        g_strdup_printf("HTTP/1.1 %d Whatever\r\nContent-Type: %s\r\nContent-Length: %zu\r\n\r\n%s",
                        status, type, strlen(body), body);

    script_say(peer, text, strlen(text));
}

static StandInAnswer next_answer(StandIn *self)
{
    StandInAnswer answer = self->answer;

    if (self->answers_left == 0) return ANSWER_ACCEPT;
    if (self->answers_left > 0) self->answers_left--;
    return answer;
}

static void answer_send(StandIn *self, ScriptPeer *peer, const HttpRequest *request)
{
    StandInSend *send = g_new0(StandInSend, 1);

    send->id = http_request_field(request, self->map.id);
    send->to = http_request_field(request, self->map.to);
    send->text = http_request_field(request, self->map.text);
    send->answered = next_answer(self);
    g_ptr_array_add(self->sends, send);
    g_autofree char *number = g_strdup_printf("%u", self->sends->len);
    g_auto(GStrv) parts = g_strsplit(self->map.accepted, "%d", 2);
    g_autofree char *accepted = g_strjoinv(number, parts);
    switch (send->answered) {
    case ANSWER_ACCEPT: say_answer(peer, 201, "application/json", accepted); return;
    case ANSWER_REFUSE:
        say_answer(peer, 422, "application/json", "{\"problem\":{\"why\":\"no such number\"}}");
        return;
    case ANSWER_ERROR: say_answer(peer, 500, "text/plain", "out of order"); return;
    case ANSWER_HTML:
        say_answer(peer, 200, "text/html",
                   "<html><body>Please log in to the network</body></html>");
        return;
    case ANSWER_HALF:
        say(peer, "HTTP/1.1 201 Created\r\nContent-Length: 400\r\n\r\n{\"res");
        script_hang_up(peer);
        return;
    case ANSWER_NOTHING: return;
    case ANSWER_CLOSE:
    case ANSWER_DROP: script_hang_up(peer); return;
    }
}

/* GET /receipts?after=CURSOR: those behind it, at most two. */
static void answer_receipts(StandIn *self, ScriptPeer *peer, const HttpRequest *request)
{
    g_autofree char *after = http_request_field(request, "query:after");
    size_t from = after != NULL ? (size_t)atoi(after) : 0;
    size_t to = MIN(from + 2, json_array_size(self->receipts));
    json_t *items = json_array();

    for (size_t i = from; i < to; i++)
        json_array_append(items, json_array_get(self->receipts, i));
    g_autofree char *next = g_strdup_printf("%zu", MAX(from, to));
    json_t *page = json_pack("{s:o, s:s}", "receipts", items, "after", next);
    g_autofree char *text = json_dumps(page, JSON_COMPACT);
    json_decref(page);
    say_answer(peer, 200, "application/json", text);
}

static void answer_poll(StandIn *self, ScriptPeer *peer, const HttpRequest *request)
{
    g_autofree char *after = http_request_field(request, "query:after");
    size_t from = after != NULL ? (size_t)atoi(after) : 0;
    size_t to = MIN(from + INBOX_PAGE, json_array_size(self->inbox));
    json_t *items = json_array();

    self->polls++;
    for (size_t i = from; i < to; i++)
        json_array_append(items, json_array_get(self->inbox, i));
    g_autofree char *next = g_strdup_printf("%zu", MAX(from, to));
    json_t *page = json_pack("{s:{s:o, s:s}}", "data", "items", items, "after", next);
    g_autofree char *text = json_dumps(page, JSON_COMPACT);
    json_decref(page);
    say_answer(peer, 200, "application/json", text);
}

static bool was_taken(const StandInSend *send)
{
    return send->answered != ANSWER_REFUSE && send->answered != ANSWER_ERROR &&
           send->answered != ANSWER_DROP;
}

static void answer_ask(StandIn *self, ScriptPeer *peer, const HttpRequest *request)
{
    g_autofree char *id = http_request_field(request, "query:ref");
    guint number = 0;

    self->asked++;
    for (guint i = 0; i < self->sends->len; i++) {
        const StandInSend *send = self->sends->pdata[i];
        if (g_strcmp0(send->id, id) == 0 && was_taken(send)) number = i + 1;
    }
    g_autofree char *text = number > 0 ? g_strdup_printf("{\"found\":[{\"uid\":%u}]}", number)
                                       : g_strdup("{\"found\":[]}");
    say_answer(peer, 200, "application/json", text);
}

static void speak_http(ScriptPeer *peer, GString *heard, void *context)
{
    StandIn *self = context;

    for (;;) {
        g_autoptr(HttpRequest) request = http_request_take(heard);
        if (request == NULL) return;
        g_mutex_lock(&self->lock);
        if (self->slow_ms > 0) g_usleep((gulong)self->slow_ms * 1000);
        if (strcmp(request->path, "/inbox") == 0)
            answer_poll(self, peer, request);
        else if (strcmp(request->path, "/receipts") == 0)
            answer_receipts(self, peer, request);
        else if (strcmp(request->path, "/ask") == 0)
            answer_ask(self, peer, request);
        else
            answer_send(self, peer, request);
        g_mutex_unlock(&self->lock);
    }
}

/* --- SMTP --- */

enum { SMTP_NEW, SMTP_COMMANDS, SMTP_DATA };

static char *header_line(const char *mail, const char *name)
{
    const char *at = strstr(mail, name);

    return at == NULL ? NULL : g_strndup(at + strlen(name), strcspn(at + strlen(name), "\r\n"));
}

static bool take_mail(StandIn *self, GString *heard)
{
    const char *end = strstr(heard->str, "\r\n.\r\n");

    if (end == NULL) return false;
    StandInSend *mail = g_new0(StandInSend, 1);
    mail->text = g_strndup(heard->str, (gsize)(end - heard->str));
    mail->id = header_line(mail->text, "Message-ID: ");
    if (mail->id == NULL) mail->id = header_line(mail->text, "Message-Id: ");
    mail->to = header_line(mail->text, "To: ");
    g_string_erase(heard, 0, end - heard->str + 5);
    g_mutex_lock(&self->lock);
    g_ptr_array_add(self->mails, mail);
    g_mutex_unlock(&self->lock);
    return true;
}

static void speak_smtp(ScriptPeer *peer, GString *heard, void *context)
{
    StandIn *self = context;
    int *state = script_state(peer);

    if (*state == SMTP_NEW) {
        *state = SMTP_COMMANDS;
        say(peer, "220 mail.test ready\r\n");
    }
    for (;;) {
        if (*state == SMTP_DATA) {
            if (!take_mail(self, heard)) return;
            *state = SMTP_COMMANDS;
            say(peer, "250 taken\r\n");
            continue;
        }
        g_autofree char *line = script_take_line(heard);
        if (line == NULL) return;
        if (g_ascii_strncasecmp(line, "DATA", 4) == 0) {
            *state = SMTP_DATA;
            say(peer, "354 go on\r\n");
        } else if (g_ascii_strncasecmp(line, "QUIT", 4) == 0) {
            say(peer, "221 bye\r\n");
            script_hang_up(peer);
            return;
        } else {
            say(peer, "250 fine\r\n");
        }
    }
}

/* --- life --- */

static void on_stop(uv_async_t *async)
{
    StandIn *self = async->data;

    script_server_close(self->http);
    script_server_close(self->smtp);
    uv_close((uv_handle_t *)async, NULL);
}

static void *serve(void *context)
{
    StandIn *self = context;

    uv_run(&self->loop, UV_RUN_DEFAULT);
    uv_loop_close(&self->loop);
    return NULL;
}

StandIn *stand_in_new(const StandInMap *map)
{
    StandIn *self = g_new0(StandIn, 1);

    self->map = *map;
    self->sends = g_ptr_array_new_with_free_func(send_free);
    self->mails = g_ptr_array_new_with_free_func(send_free);
    self->inbox = json_array();
    self->receipts = json_array();
    g_mutex_init(&self->lock);
    uv_loop_init(&self->loop);
    uv_async_init(&self->loop, &self->stop, on_stop);
    self->stop.data = self;
    self->http = script_server_new(&self->loop, speak_http, self);
    self->smtp = script_server_new(&self->loop, speak_smtp, self);
    self->http_port = script_server_port(self->http);
    self->smtp_port = script_server_port(self->smtp);
    self->thread = g_thread_new("stand-in", serve, self);
    return self;
}

void stand_in_free(StandIn *self)
{
    uv_async_send(&self->stop);
    g_thread_join(self->thread);
    g_ptr_array_unref(self->sends);
    g_ptr_array_unref(self->mails);
    json_decref(self->inbox);
    json_decref(self->receipts);
    g_mutex_clear(&self->lock);
    g_free(self);
}

int stand_in_port(const StandIn *self)
{
    return self->http_port;
}

int stand_in_smtp_port(const StandIn *self)
{
    return self->smtp_port;
}

void stand_in_answer(StandIn *self, StandInAnswer answer, int times)
{
    g_mutex_lock(&self->lock);
    self->answer = answer;
    self->answers_left = times;
    g_mutex_unlock(&self->lock);
}

void stand_in_slow(StandIn *self, int ms)
{
    g_mutex_lock(&self->lock);
    self->slow_ms = ms;
    g_mutex_unlock(&self->lock);
}

static int length_of(StandIn *self, const GPtrArray *list)
{
    g_mutex_lock(&self->lock);
    int length = (int)list->len;
    g_mutex_unlock(&self->lock);
    return length;
}

static const StandInSend *item_of(StandIn *self, const GPtrArray *list, int number)
{
    g_mutex_lock(&self->lock);
    g_assert_cmpint(number, <, (int)list->len);
    const StandInSend *send = list->pdata[number];
    g_mutex_unlock(&self->lock);
    return send;
}

int stand_in_count(StandIn *self)
{
    return length_of(self, self->sends);
}

int stand_in_asked(StandIn *self)
{
    g_mutex_lock(&self->lock);
    int asked = self->asked;
    g_mutex_unlock(&self->lock);
    return asked;
}

const StandInSend *stand_in_send(StandIn *self, int number)
{
    return item_of(self, self->sends, number);
}

int stand_in_mails(StandIn *self)
{
    return length_of(self, self->mails);
}

const StandInSend *stand_in_mail(StandIn *self, int number)
{
    return item_of(self, self->mails, number);
}

int stand_in_sent(StandIn *self, const char *to, const char *holds, const StandInSend **last)
{
    int found = 0;

    if (last != NULL) *last = NULL;
    g_mutex_lock(&self->lock);
    for (guint i = 0; i < self->sends->len; i++) {
        const StandInSend *send = self->sends->pdata[i];
        if (to != NULL && g_strcmp0(send->to, to) != 0) continue;
        if (holds != NULL && (send->text == NULL || strstr(send->text, holds) == NULL)) continue;
        found++;
        if (last != NULL) *last = send;
    }
    g_mutex_unlock(&self->lock);
    return found;
}

int stand_in_put_item(StandIn *self, json_t *item)
{
    g_mutex_lock(&self->lock);
    json_array_append_new(self->inbox, item);
    int number = (int)json_array_size(self->inbox);
    g_mutex_unlock(&self->lock);
    return number;
}

void stand_in_put_receipt(StandIn *self, json_t *receipt)
{
    g_mutex_lock(&self->lock);
    json_array_append_new(self->receipts, receipt);
    g_mutex_unlock(&self->lock);
}

int stand_in_put(StandIn *self, const char *from, const char *text, const char *at)
{
    static int uid = 7000;
    json_t *item =
        json_pack("{s:i, s:{s:s}, s:s}", "uid", ++uid, "who", "msisdn", from, "content", text);

    g_assert_nonnull(item);
    if (at != NULL) json_object_set_new(item, "received", json_string(at));
    return stand_in_put_item(self, item);
}

int stand_in_polls(StandIn *self)
{
    g_mutex_lock(&self->lock);
    int polls = self->polls;
    g_mutex_unlock(&self->lock);
    return polls;
}
