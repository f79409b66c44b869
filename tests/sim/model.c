/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/sim/model.h"

#include <string.h>

#include "tests/sim/laptop.h"

/* --- things --- */

static void bar_free(void *data)
{
    ModelBar *bar = data;

    g_free(bar->id);
    g_free(bar->kind);
    g_free(bar->cause);
    g_free(bar);
}

static void client_free(void *data)
{
    ModelClient *client = data;

    g_free(client->id);
    if (client->zone != NULL) g_time_zone_unref(client->zone);
    g_free(client->name);
    g_free(client->channel);
    g_free(client->phone);
    g_free(client->email);
    g_ptr_array_unref(client->bars);
    g_free(client);
}

static void session_free(void *data)
{
    ModelSession *session = data;

    g_free(session->id);
    g_free(session->client);
    g_free(session->date);
    g_free(session->message);
    g_free(session->done);
    g_free(session);
}

static void message_free(void *data)
{
    ModelMessage *message = data;

    g_free(message->id);
    g_free(message->kind);
    g_free(message->client);
    g_free(message->session);
    g_free(message->alert);
    g_free(message->fate);
    g_free(message);
}

static void alert_free(void *data)
{
    ModelAlert *alert = data;

    g_free(alert->id);
    g_free(alert->client);
    g_free(alert->kind);
    g_free(alert->class);
    g_free(alert->cause);
    g_free(alert->taken_by);
    g_free(alert->taken_via);
    g_free(alert);
}

static void reply_free(void *data)
{
    ModelReply *reply = data;

    g_free(reply->id);
    g_free(reply->gateway_id);
    g_free(reply->from);
    g_free(reply->text);
    g_free(reply->state);
    g_free(reply->client);
    g_free(reply->session);
    g_free(reply);
}

Model *model_new(void)
{
    Model *model = g_new0(Model, 1);

    model->clients = g_hash_table_new_full(g_str_hash, g_str_equal, NULL, client_free);
    model->sessions = g_hash_table_new_full(g_str_hash, g_str_equal, NULL, session_free);
    model->slots = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
    model->messages = g_hash_table_new_full(g_str_hash, g_str_equal, NULL, message_free);
    model->alerts = g_hash_table_new_full(g_str_hash, g_str_equal, NULL, alert_free);
    model->replies = g_hash_table_new_full(g_str_hash, g_str_equal, NULL, reply_free);
    model->received = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
    return model;
}

void model_free(Model *model)
{
    if (model == NULL) return;
    g_hash_table_unref(model->slots);
    g_hash_table_unref(model->clients);
    g_hash_table_unref(model->sessions);
    g_hash_table_unref(model->messages);
    g_hash_table_unref(model->alerts);
    g_hash_table_unref(model->replies);
    g_hash_table_unref(model->received);
    g_free(model);
}

ModelClient *model_client(const Model *model, const char *id)
{
    return id != NULL ? g_hash_table_lookup(model->clients, id) : NULL;
}

/* The thing of that id in a table, or a new one of that size whose first field is the id. */
static void *thing(GHashTable *table, const char *id, size_t size)
{
    void *found = g_hash_table_lookup(table, id);

    if (found != NULL) return found;
    char **made = g_malloc0(size);
    made[0] = g_strdup(id);
    g_hash_table_insert(table, made[0], made);
    return made;
}

ModelMessage *model_message(Model *model, const char *id)
{
    return thing(model->messages, id, sizeof(ModelMessage));
}

/* --- events --- */

static const char *text(const json_t *body, const char *field)
{
    return json_string_value(json_object_get(body, field));
}

static int64_t number(const json_t *body, const char *field)
{
    return json_integer_value(json_object_get(body, field));
}

static void put(char **field, const char *value)
{
    char *copy = g_strdup(value);

    g_free(*field);
    *field = copy;
}

static void put_given(char **field, const char *value)
{
    if (value != NULL) put(field, value);
}

static ModelClient *client_of(Model *model, const char *id)
{
    ModelClient *client = thing(model->clients, id, sizeof(ModelClient));

    if (client->bars == NULL) client->bars = g_ptr_array_new_with_free_func(bar_free);
    return client;
}

static void take_fields(Model *model, const Event *event, const json_t *body)
{
    ModelClient *client = client_of(model, event->subject);
    const json_t *fields = json_object_get(body, "fields");
    const char *zone = text(fields, "zone");
    const json_t *pain = json_object_get(fields, "usual_pain");

    put_given(&client->name, text(fields, "name"));
    put_given(&client->channel, text(fields, "channel"));
    put_given(&client->phone, text(fields, "phone"));
    put_given(&client->email, text(fields, "email"));
    if (pain != NULL) client->usual_pain = (int)json_number_value(pain);
    if (zone == NULL) return;
    if (client->zone != NULL) g_time_zone_unref(client->zone);
    client->zone = g_time_zone_new_identifier(zone);
}

static void take_consent(Model *model, const Event *event, const json_t *body)
{
    static const char *const CHANNELS[] = {"sms", "email", "phone"};
    const char *channel = text(body, "channel");

    for (size_t i = 0; i < G_N_ELEMENTS(CHANNELS); i++)
        if (g_strcmp0(channel, CHANNELS[i]) == 0)
            client_of(model, event->subject)->consent_ms[i] = number(body, "at");
}

static bool is_laptops(const Event *event)
{
    return strcmp(event->replica, LAPTOP_REPLICA) == 0;
}

static void set_bar(Model *model, const Event *event, const json_t *body, const char *kind)
{
    ModelBar *bar = g_new0(ModelBar, 1);

    bar->id = event_id(event);
    bar->kind = g_strdup(kind);
    bar->cause = g_strdup(text(body, "cause"));
    bar->at_ms = number(body, "at");
    if (is_laptops(event)) bar->at_ms = MAX(bar->at_ms, model->now_ms);
    g_ptr_array_add(client_of(model, event->subject)->bars, bar);
}

static int64_t number_of_all(const Model *model)
{
    return model->seq + model->laptop_seq;
}

static void lift(Model *model, const Event *event, const json_t *body)
{
    const ModelClient *client = client_of(model, event->subject);
    size_t i;
    json_t *end;

    json_array_foreach(json_object_get(body, "ends"), i, end) for (guint b = 0;
                                                                   b < client->bars->len; b++)
    {
        ModelBar *bar = client->bars->pdata[b];
        if (g_strcmp0(bar->id, json_string_value(end)) == 0) bar->lifted_as = number_of_all(model);
    }
}

static ModelSession *session_of(Model *model, const Event *event, const json_t *body)
{
    const char *id = text(body, "session");

    if (id == NULL) return NULL;
    ModelSession *session = thing(model->sessions, id, sizeof(ModelSession));
    put(&session->client, event->subject);
    put_given(&session->date, text(body, "date"));
    if (json_object_get(body, "slot") != NULL) session->slot = (int)number(body, "slot");
    if (json_object_get(body, "utc") != NULL && session->asked_ms == 0)
        session->utc_ms = number(body, "utc");
    if (session->date != NULL)
        g_hash_table_insert(
            model->slots,
            g_strdup_printf("%s %s %d", session->client, session->date, session->slot), session);
    return session;
}

static void take_session(Model *model, const Event *event, const json_t *body)
{
    ModelSession *session = session_of(model, event, body);
    const char *as = text(body, "as");

    if (session == NULL) return;
    session->told_as = number_of_all(model);
    if (strcmp(event->kind, "session.asked") == 0) {
        session->asked_ms = number(body, "at");
        put_given(&session->message, text(body, "message"));
    } else if (strcmp(event->kind, "report.made") == 0) {
        put_given(&session->done, text(body, "done"));
    } else {
        session->excused = session->excused || g_strcmp0(as, "excused") == 0;
        session->silent = session->silent || g_strcmp0(as, "silent") == 0;
        session->unasked = session->unasked || g_strcmp0(as, "unasked") == 0;
    }
}

static void take_message(Model *model, const Event *event, const json_t *body)
{
    ModelMessage *message = model_message(model, text(body, "message"));

    put_given(&message->kind, text(body, "kind"));
    put_given(&message->client, text(body, "client"));
    put_given(&message->session, text(body, "session"));
    put_given(&message->alert, text(body, "alert"));
    put(&message->fate, text(body, "fate"));
    message->fate_ms = number(body, "fate_at");
    if (message->fate_seq == 0) message->fate_seq = event->seq;
}

static void take_alert(Model *model, const Event *event, const json_t *body)
{
    ModelAlert *alert = thing(model->alerts, event->subject, sizeof(ModelAlert));
    const char *what = event->kind + strlen("alert.");

    if (strcmp(what, "opened") == 0) {
        put(&alert->client, text(body, "client"));
        put(&alert->kind, text(body, "kind"));
        put(&alert->class, text(body, "class"));
        put(&alert->cause, text(body, "cause"));
        alert->at_ms = number(body, "at");
    } else if (strcmp(what, "passed") == 0) {
        alert->passed++;
        alert->passed_ms = number(body, "at");
    } else if (strcmp(what, "taken") == 0) {
        alert->taken = true;
        put(&alert->taken_by, text(body, "by"));
        put(&alert->taken_via, text(body, "via"));
    } else if (strcmp(what, "closed") == 0) {
        alert->closed = true;
        alert->closed_ms = event->wall;
    }
}

static void take_reply(Model *model, const Event *event, const json_t *body)
{
    ModelReply *reply = thing(model->replies, event->subject, sizeof(ModelReply));
    const char *what = event->kind + strlen("reply.");

    if (strcmp(what, "received") == 0) {
        const char *id = text(body, "gateway_id");
        put(&reply->gateway_id, id);
        put(&reply->from, text(body, "from"));
        put(&reply->text, text(body, "text"));
        if (reply->state == NULL) put(&reply->state, "received");
        reply->arrived_ms = number(body, "arrived");
        void *count = id != NULL ? g_hash_table_lookup(model->received, id) : NULL;
        if (id != NULL)
            g_hash_table_insert(model->received, g_strdup(id),
                                GINT_TO_POINTER(GPOINTER_TO_INT(count) + 1));
    } else if (strcmp(what, "read") == 0) {
        if (g_strcmp0(reply->state, "settled") != 0) put(&reply->state, text(body, "state"));
        put(&reply->client, text(body, "client"));
        put(&reply->session, text(body, "session"));
        reply->read_seq = event->seq;
        reply->told_as = number_of_all(model);
    } else if (strcmp(what, "settled") == 0) {
        put(&reply->state, "settled");
    }
}

void model_take(Model *model, const Event *event)
{
    static const char *const BARS[][2] = {
        {"client.stop", "stop"}, {"client.pause", "pause"}, {"client.suspend", "suspend"},
        {"client.end", "end"},   {"hold.set", "hold"},
    };
    json_t *body = json_loads(event->body, JSON_DECODE_ANY, NULL);
    const char *kind = event->kind;

    int64_t *last = is_laptops(event) ? &model->laptop_seq : &model->seq;
    g_assert(event->seq == *last + 1);
    *last = event->seq;
    for (size_t i = 0; i < G_N_ELEMENTS(BARS); i++)
        if (strcmp(kind, BARS[i][0]) == 0) set_bar(model, event, body, BARS[i][1]);
    if (strcmp(kind, "client.set") == 0)
        take_fields(model, event, body);
    else if (strcmp(kind, "client.consent") == 0)
        take_consent(model, event, body);
    else if (strcmp(kind, "client.start") == 0 || strcmp(kind, "client.resume") == 0 ||
             strcmp(kind, "hold.lift") == 0)
        lift(model, event, body);
    else if (g_str_has_prefix(kind, "session.") || strcmp(kind, "report.made") == 0)
        take_session(model, event, body);
    else if (strcmp(kind, "message.settled") == 0)
        take_message(model, event, body);
    else if (g_str_has_prefix(kind, "alert."))
        take_alert(model, event, body);
    else if (g_str_has_prefix(kind, "reply."))
        take_reply(model, event, body);
    json_decref(body);
}

/* --- looking --- */

const ModelBar *model_bar(const ModelClient *client, const char *kind, int64_t before_ms)
{
    for (guint i = 0; i < client->bars->len; i++) {
        const ModelBar *bar = client->bars->pdata[i];
        if (bar->lifted_as == 0 && strcmp(bar->kind, kind) == 0 && bar->at_ms < before_ms)
            return bar;
    }
    return NULL;
}

const char *model_state(const Model *model, const ModelSession *session)
{
    static const char *const FAILED[] = {"lapsed", "refused", "failed", "unsure", NULL};
    const ModelMessage *message =
        session->message != NULL ? g_hash_table_lookup(model->messages, session->message) : NULL;
    bool failed =
        message != NULL && message->fate != NULL && g_strv_contains(FAILED, message->fate);

    if (g_strcmp0(session->done, "yes") == 0) return "done";
    if (g_strcmp0(session->done, "partly") == 0) return "partly";
    if (g_strcmp0(session->done, "no") == 0) return "not";
    if (session->excused) return "excused";
    if (failed) return "unasked";
    if (session->silent) return "silent";
    if (session->unasked) return "unasked";
    return session->asked_ms != 0 ? "asked" : "planned";
}

const ModelAlert *model_open_alert(const Model *model, const char *client, const char *kind)
{
    GHashTableIter iter;
    void *value;

    g_hash_table_iter_init(&iter, model->alerts);
    while (g_hash_table_iter_next(&iter, NULL, &value)) {
        const ModelAlert *alert = value;
        if (!alert->closed && g_strcmp0(alert->client, client) == 0 &&
            g_strcmp0(alert->kind, kind) == 0)
            return alert;
    }
    return NULL;
}
