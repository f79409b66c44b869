/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/rehearsal/gateway.h"

#include <string.h>

#include "daemon/rehearsal/mapping.h"

enum { POLL_MOST = 50 };

typedef struct {
    char *id;
    char *from;
    char *text;
    int64_t at_ms;
} Item;

/* One gateway of the clinic, with what waits to be polled for. */
typedef struct {
    const Gateway *gateway;
    char *send_base;
    char *poll_base;
    GPtrArray *inbox; /* of Item, oldest first; nothing is ever taken out */
    guint handed_out; /* of the inbox, where the mapping has no cursor */
} Line;

struct Standin {
    GPtrArray *lines;    /* of Line */
    GHashTable *taken;   /* what tells a message apart -> the id that osier was told */
    GHashTable *refused; /* numbers */
    StandinText *text;
    void *context;
    StandinCounts counts;
    bool sick;
};

static void item_free(void *data)
{
    Item *item = data;

    g_free(item->id);
    g_free(item->from);
    g_free(item->text);
    g_free(item);
}

static void line_free(void *data)
{
    Line *line = data;

    g_free(line->send_base);
    g_free(line->poll_base);
    g_ptr_array_unref(line->inbox);
    g_free(line);
}

Standin *standin_new(const Clinic *clinic, StandinText *text, void *context)
{
    Standin *standin = g_new0(Standin, 1);

    standin->lines = g_ptr_array_new_with_free_func(line_free);
    standin->taken = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, g_free);
    standin->refused = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
    standin->text = text;
    standin->context = context;
    for (guint i = 0; i < clinic->gateways->len; i++) {
        const Gateway *gateway = clinic->gateways->pdata[i];
        Line *line = g_new0(Line, 1);
        *line = (Line){.gateway = gateway,
                       .send_base = g_strconcat("/send/", gateway->name, NULL),
                       .poll_base = g_strconcat("/poll/", gateway->name, NULL),
                       .inbox = g_ptr_array_new_with_free_func(item_free)};
        g_ptr_array_add(standin->lines, line);
    }
    return standin;
}

void standin_free(Standin *standin)
{
    if (standin == NULL) return;
    g_ptr_array_unref(standin->lines);
    g_hash_table_unref(standin->taken);
    g_hash_table_unref(standin->refused);
    g_free(standin);
}

static void answer_document(ServeRequest *request, int status, json_t *document)
{
    char *text = json_dumps(document, JSON_COMPACT | JSON_ENCODE_ANY);

    serve_answer(request, status, "application/json", NULL, g_bytes_new(text, strlen(text)));
    free(text);
    json_decref(document);
}

/* --- sends ---------------------------------------------------------------------------------- */

static void refuse(const Line *line, ServeRequest *request, const char *reason)
{
    const SendMapping *send = &line->gateway->send;
    bool known = send->refused_status->len > 0;
    int status = known ? g_array_index(send->refused_status, int, 0) : 400;
    json_t *body = json_object();

    mapping_put(&body, send->refused_reason, json_string(reason));
    answer_document(request, status, body);
}

static void accept(const Line *line, ServeRequest *request, const char *id)
{
    const SendMapping *send = &line->gateway->send;
    json_t *body = json_object();

    mapping_put(&body, send->accepted_id, json_string(id));
    answer_document(request, g_array_index(send->accepted_status, int, 0), body);
}

/* A message goes on to the phone once; a gateway that takes no key sends it on again. */
static void take(Standin *standin, const Line *line, ServeRequest *request, const Sent *sent)
{
    g_autofree char *key =
        sent->id != NULL ? g_strdup(sent->id) : g_strconcat(sent->to, "\n", sent->text, NULL);
    const char *before = g_hash_table_lookup(standin->taken, key);
    bool again = before != NULL && sent->id != NULL;
    g_autofree char *id = g_strdup(before);

    if (!again) {
        g_free(id);
        id = g_strdup_printf("%s-%05d", line->gateway->name, ++standin->counts.taken);
        g_hash_table_replace(standin->taken, g_strdup(key), g_strdup(id));
    } else {
        standin->counts.repeated++;
    }
    if (!again || !line->gateway->takes_key)
        standin->text(line->gateway->name, id, sent->to, sent->text, standin->context);
    accept(line, request, id);
}

static void hear_send(Standin *standin, const Line *line, ServeRequest *request)
{
    Sent sent = {0};

    if (!mapping_read_send(&line->gateway->send, request, &sent))
        refuse(line, request, "number or text is missing");
    else if (g_hash_table_contains(standin->refused, sent.to))
        refuse(line, request, "no such number");
    else
        take(standin, line, request, &sent);
    sent_clear(&sent);
}

/* --- polls ---------------------------------------------------------------------------------- */

static void hear_poll(Line *line, ServeRequest *request)
{
    const PollMapping *poll = line->gateway->poll;
    g_autofree char *cursor = mapping_read_cursor(poll, request);
    guint64 after = poll->cursor != NULL ? g_ascii_strtoull(cursor, NULL, 10) : line->handed_out;
    json_t *list = json_array();
    json_t *body = json_object();
    guint i = (guint)MIN(after, line->inbox->len);

    for (int n = 0; i < line->inbox->len && n < POLL_MOST; i++, n++) {
        const Item *item = line->inbox->pdata[i];
        const HookMessage message = {item->id, item->from, item->text, item->at_ms};
        json_array_append_new(list,
                              hook_item(&message, poll->id, poll->from, poll->text, poll->at));
    }
    line->handed_out = i;
    mapping_put(&body, poll->items, list);
    if (poll->cursor != NULL) {
        g_autofree char *next = g_strdup_printf("%u", i);
        mapping_put(&body, poll->cursor, json_string(next));
    }
    answer_document(request, 200, body);
}

void standin_put(Standin *standin, const char *gateway, const HookMessage *message)
{
    for (guint i = 0; i < standin->lines->len; i++) {
        Line *line = standin->lines->pdata[i];
        if (strcmp(line->gateway->name, gateway) != 0) continue;
        Item *item = g_new0(Item, 1);
        *item = (Item){.id = g_strdup(message->id),
                       .from = g_strdup(message->from),
                       .text = g_strdup(message->text),
                       .at_ms = message->at_ms};
        g_ptr_array_add(line->inbox, item);
    }
}

/* --- serving -------------------------------------------------------------------------------- */

/* Does the path lie under base? */
static bool under(const char *path, const char *base)
{
    size_t length = strlen(base);

    return strncmp(path, base, length) == 0 && path[length] == '/';
}

void standin_serve(ServeRequest *request, void *context)
{
    Standin *standin = context;

    standin->counts.requests++;
    if (standin->sick) {
        answer_document(request, 500, json_pack("{s:s}", "error", "please try again later"));
        return;
    }
    for (guint i = 0; i < standin->lines->len; i++) {
        Line *line = standin->lines->pdata[i];
        if (line->gateway->kind != GATEWAY_HTTP_SMS) continue;
        if (under(serve_path(request), line->send_base)) {
            hear_send(standin, line, request);
            return;
        }
        if (line->gateway->poll != NULL && under(serve_path(request), line->poll_base)) {
            hear_poll(line, request);
            return;
        }
    }
    answer_document(request, 404, json_pack("{s:s}", "error", "nothing is here"));
}

void standin_set_sick(Standin *standin, bool sick)
{
    standin->sick = sick;
}

void standin_refuse(Standin *standin, const char *number)
{
    g_hash_table_add(standin->refused, g_strdup(number));
}

StandinCounts standin_counts(const Standin *standin)
{
    return standin->counts;
}
