/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/control/control.h"

#include <string.h>

#include "adapters/store/find_access.h"
#include "daemon/cli/cli.h"
#include "daemon/control/answer.h"
#include "daemon/control/body.h"
#include "daemon/control/handlers.h"
#include "daemon/control/health.h"
#include "daemon/control/metrics.h"
#include "daemon/sync/sync.h"

/* Fields that a GET may name in its query. */
static const char *const QUERY[] = {"from",     "to",    "days",   "client", "since",
                                    "all",      "of",    "format", "name",   "skip",
                                    "movement", "paper", "large",  "words"};

/* The same account of how things stand, for whom. */
typedef enum { FOR_PEOPLE, FOR_METRICS, FOR_PROBE } Audience;

typedef struct {
    Daemon *daemon;
    ServeRequest *request;
    const Endpoint *endpoint;
    Audience audience;
    bool reads; /* it changes nothing, and is answered although nothing can be written */
    Call call;
    char *noted;    /* what is written down of it, and under whose name; NULL: nothing */
    bool unwritten; /* there was no room for that */
} Errand;

static void errand_free(Errand *errand)
{
    g_free(errand->call.id[0]);
    g_free(errand->call.id[1]);
    json_decref(errand->call.body);
    json_decref(errand->call.answer);
    drawing_free(errand->call.drawing);
    g_free(errand->call.about);
    g_free(errand->noted);
    g_free(errand);
}

/* What only reads may be run twice. */
static void forget_answer(Call *call)
{
    g_clear_pointer(&call->answer, json_decref);
    g_clear_pointer(&call->drawing, drawing_free);
    g_clear_pointer(&call->about, g_free);
}

static bool run_call(Job *job, void *context)
{
    Errand *errand = context;
    forget_answer(&errand->call);
    bool kept = errand->endpoint->handler(job, &errand->call);

    /* After an error of the store its rows are not there, and what a handler says counts for nothing. */
    if (errand->call.answer == NULL && errand->call.drawing == NULL)
        return call_fail(&errand->call, EXIT_IO, "osierd", "", "has no answer to this");
    if (kept && errand->noted != NULL && tx_is_reading(job->tx))
        errand->unwritten = true;
    else if (kept && errand->noted != NULL)
        look_note(job->tx, call_author(&errand->call), errand->call.about,
                  strcmp(errand->endpoint->method, "POST") == 0, errand->noted);
    return kept;
}

/* free: bytes that osierd may still use on the device of the store's file; null where it does not tell, and of a store on a
 * server, whose device is not this machine's. */
static json_t *store_json(Daemon *daemon)
{
    Desk *desk = daemon_desk(daemon);
    const Store *store = desk_store(desk);
    bool writes = !desk_is_full(desk);
    bool here = settings_clinic(desk_settings(desk))->store_schema == NULL;
    int64_t room = here ? keep_room(daemon_keep(daemon)) : -1;

    return json_pack("{s:b, s:s?, s:o}", "writes", writes, "problem",
                     writes ? NULL : store->problem(store), "free",
                     room < 0 ? json_null() : json_integer(room));
}

/* Of a message whose time has come and that no gateway takes now it is told why. */
static void add_why(Daemon *daemon, json_t *message, const char *now)
{
    const char *next = json_string_value(json_object_get(message, "next_at"));
    const char *to = json_string_value(json_object_get(message, "to"));
    Channel channel;

    if (g_strcmp0(json_string_value(json_object_get(message, "fate")), "waiting") != 0 ||
        !json_is_null(json_object_get(message, "reason")) || next == NULL || to == NULL ||
        strcmp(next, now) > 0 ||
        !channel_from_name(json_string_value(json_object_get(message, "channel")), &channel))
        return;
    g_autofree char *why = relay_why(daemon_relay(daemon), channel, to);
    if (why != NULL) json_object_set_new(message, "reason", json_string(why));
}

static void add_whys(Errand *errand)
{
    g_autofree char *now = instant_format(clock_now(desk_clock(daemon_desk(errand->daemon))));
    size_t i;
    json_t *message;

    if (errand->endpoint->handler != handle_messages) return;
    json_array_foreach(errand->call.answer, i, message) add_why(errand->daemon, message, now);
}

/* What only the loop knows is added to the status. */
static void add_lines(Errand *errand)
{
    if (errand->endpoint->handler == handle_sync_status && daemon_sync(errand->daemon) != NULL)
        json_object_update_new(errand->call.answer, sync_json(daemon_sync(errand->daemon)));
    add_whys(errand);
    if (errand->endpoint->handler != handle_status) return;
    json_object_set_new(errand->call.answer, "gateways", relay_json(daemon_relay(errand->daemon)));
    json_object_set_new(errand->call.answer, "line", relay_line_json(daemon_relay(errand->daemon)));
    json_object_set_new(errand->call.answer, "polls", intake_json(daemon_intake(errand->daemon)));
    json_object_set_new(errand->call.answer, "hooks",
                        intake_hooks_json(daemon_intake(errand->daemon)));
    json_object_set_new(errand->call.answer, "backup", keep_json(daemon_keep(errand->daemon)));
    json_object_set_new(errand->call.answer, "store", store_json(errand->daemon));
    health_add(errand->call.answer, settings_clinic(desk_settings(daemon_desk(errand->daemon))));
}

static void send_metrics(const Errand *errand)
{
    char *text = metrics_text(errand->call.answer, desk_tally(daemon_desk(errand->daemon)));

    serve_answer(errand->request, 200, METRICS_TYPE, NULL, g_bytes_new_take(text, strlen(text)));
}

static void answer_call(Errand *errand)
{
    if (errand->audience == FOR_METRICS && errand->call.status == 200) {
        send_metrics(errand);
    } else if (errand->audience == FOR_PROBE && errand->call.status == 200) {
        json_t *document = health_brief(errand->call.answer);
        answer_document(errand->request, 200, document);
        json_decref(document);
    } else {
        answer_document(errand->request, errand->call.status, errand->call.answer);
    }
}

/* --- what is drawn --- */

typedef struct {
    ServeRequest *request;
    const char *type;
    char *file;
} Drawn;

static void answer_drawn(GBytes *bytes, void *context)
{
    Drawn *drawn = context;
    g_autofree char *named =
        drawn->file != NULL
            ? g_strdup_printf("Content-Disposition: inline; filename=\"%s\"", drawn->file)
            : NULL;
    const char *const headers[] = {named, NULL};

    if (bytes != NULL)
        serve_answer(drawn->request, 200, drawn->type, headers, bytes);
    else
        answer_fault(drawn->request, 503, EXIT_LATER, "drawing", "", "osierd stops");
    g_free(drawn->file);
    g_free(drawn);
}

static void draw(Errand *errand)
{
    Drawing *drawing = g_steal_pointer(&errand->call.drawing);
    Drawn *drawn = g_new0(Drawn, 1);
    ServeRequest *request = errand->request;

    *drawn =
        (Drawn){.request = request, .type = drawing_type(drawing), .file = g_strdup(drawing->file)};
    if (painter_draw(daemon_painter(errand->daemon), drawing, answer_drawn, drawn)) return;
    g_free(drawn->file);
    g_free(drawn);
    answer_fault(request, 503, EXIT_LATER, "drawing", "", "too much is being drawn; try again");
}

/* What became of a call that the store did not keep, and what to do; NULL: it was kept, or the call itself was wrong. */
static const char *not_kept(StoreStatus status)
{
    switch (status) {
    case STORE_FULL:
        return "there is no room on the device of the store; nothing was changed. Make room: "
               "osier goes on by itself";
    case STORE_AWAY:
        return "the store is away: its database server does not answer, or cannot write now; "
               "nothing was changed. Look at that server (osierd's log has its words, "
               "event=store.away): osier goes on by itself";
    case STORE_STALE: return "osierd stops, to be started anew; nothing was changed";
    case STORE_FAILED: return "the store has failed; nothing was changed";
    case STORE_OK:
    case STORE_UNDONE: return NULL;
    }
    g_assert_not_reached();
}

static void call_done(StoreStatus status, void *context)
{
    Errand *errand = context;
    const char *why = not_kept(status);

    if (errand->unwritten)
        log_line(desk_log(daemon_desk(errand->daemon)), LOG_WARNINGS, "look.unwritten", NULL);
    if (why != NULL) {
        answer_fault(errand->request, 503, EXIT_LATER, "store", "", why);
    } else if (errand->call.drawing != NULL) {
        draw(errand);
    } else {
        if (errand->call.status == 200) add_lines(errand);
        if (errand->call.status == 200 && g_str_has_prefix(errand->endpoint->path, "/accounts") &&
            strcmp(errand->endpoint->method, "POST") == 0)
            daemon_accounts_changed(errand->daemon);
        answer_call(errand);
    }
    errand_free(errand);
}

static void submit(Errand *errand)
{
    (errand->reads ? desk_read : desk_submit)(daemon_desk(errand->daemon), run_call, call_done,
                                              errand);
}

/* The body as an object, with the query's fields for a GET. NULL after answering. */
static json_t *read_body(ServeRequest *request)
{
    gsize length;
    const char *bytes = g_bytes_get_data(serve_body(request), &length);
    json_error_t error;
    json_t *body =
        length == 0 ? json_object() : json_loadb(bytes, length, JSON_REJECT_DUPLICATES, &error);

    if (!json_is_object(body)) {
        json_decref(body);
        answer_fault(request, 400, EXIT_DATA, "body", "", "is no JSON object");
        return NULL;
    }
    for (size_t i = 0; i < G_N_ELEMENTS(QUERY); i++) {
        const char *value = serve_query(request, QUERY[i]);
        if (value != NULL && g_utf8_validate(value, -1, NULL))
            json_object_set_new(body, QUERY[i], json_string(value));
    }
    const char *field, *why = body_fault(body, &field);
    if (why == NULL) return body;
    const char *value = json_string_value(json_object_get(body, field));
    answer_fault(request, 400, EXIT_DATA, field, value != NULL ? value : "", why);
    json_decref(body);
    return NULL;
}

/* --- the clock --- */

typedef struct {
    Daemon *daemon;
    ServeRequest *request;
} Step;

static void stepped(const char *stuck, void *context)
{
    Step *step = context;
    const Clock *clock = desk_clock(daemon_desk(step->daemon));

    if (stuck != NULL) {
        answer_fault(step->request, 500, EXIT_IO, "clock", "", stuck);
    } else {
        int64_t next = clock_next(clock);
        g_autofree char *now = instant_format_exact(clock_now(clock));
        g_autofree char *due = next == CLOCK_NEVER ? NULL : instant_format_exact(next);
        json_t *document = json_pack("{s:s, s:s?}", "now", now, "next_due", due);
        answer_document(step->request, 200, document);
        json_decref(document);
    }
    g_free(step);
}

static void move_clock(Daemon *daemon, ServeRequest *request)
{
    json_t *body = read_body(request);
    const char *to = json_string_value(json_object_get(body, "to"));
    Stepper *stepper = daemon_stepper(daemon);
    int64_t to_ms = 0;

    if (body == NULL) return;
    if (stepper == NULL) {
        answer_fault(request, 409, EXIT_SETTINGS, "clock", "",
                     "it runs by itself; only osierd --clock is stepped");
    } else if (to == NULL || !instant_parse(to, &to_ms)) {
        answer_fault(request, 400, EXIT_DATA, "to", to != NULL ? to : "",
                     "is no instant; write it as 2026-03-02T08:00:00Z");
    } else if (to_ms < clock_now(desk_clock(daemon_desk(daemon)))) {
        g_autofree char *now = instant_format(clock_now(desk_clock(daemon_desk(daemon))));
        g_autofree char *why =
            g_strdup_printf("is past: it is %s by its clock, which goes forward alone", now);
        answer_fault(request, 400, EXIT_DATA, "to", to, why);
    } else {
        Step *step = g_new0(Step, 1);
        *step = (Step){.daemon = daemon, .request = request};
        stepper_to(stepper, to_ms, stepped, step);
    }
    json_decref(body);
}

/* --- other replicas --- */

/* What takes its time: the call is answered by the part that keeps replicas in agreement. False where it is none of these. */
static bool meet_replicas(Daemon *daemon, ServeRequest *request, const char *path)
{
    Sync *sync = daemon_sync(daemon);

    if (sync == NULL) return false;
    if (strcmp(path, "/sync/pair") == 0) {
        sync_offer(sync, request);
    } else if (strcmp(path, "/sync/visit") == 0) {
        sync_now(sync, request);
    } else if (g_str_has_prefix(path, "/sync/join/")) {
        json_t *body = read_body(request);
        if (body != NULL) sync_join(sync, request, path + strlen("/sync/join/"), body);
        json_decref(body);
    } else {
        return false;
    }
    return true;
}

/* --- a copy --- */

static void copy_made(const char *file, const char *problem, void *context)
{
    if (file == NULL) {
        answer_fault(context, 500, EXIT_IO, "backup", "", problem);
        return;
    }
    json_t *document = json_pack("{s:s}", "file", file);
    answer_document(context, 200, document);
    json_decref(document);
}

/* Runs a call as a job. actor NULL: it came by the socket. */
static void start(Daemon *daemon, ServeRequest *request, const ControlActor *actor)
{
    const char *path = serve_path(request);
    char *ids[2] = {NULL, NULL};
    bool known_path;
    const Endpoint *endpoint = endpoint_find(serve_method(request), path, ids, &known_path);
    json_t *body = endpoint != NULL ? read_body(request) : NULL;

    if (endpoint == NULL)
        answer_fault(request, known_path ? 405 : 404, EXIT_USE, "path", path,
                     known_path ? "is not called by that method" : "is not known");
    if (body == NULL) {
        g_free(ids[0]);
        g_free(ids[1]);
        return;
    }
    Errand *errand = g_new0(Errand, 1);
    *errand = (Errand){.daemon = daemon,
                       .request = request,
                       .endpoint = endpoint,
                       .reads = strcmp(endpoint->method, "GET") == 0,
                       .call = {.id = {ids[0], ids[1]}, .body = body}};
    if (actor != NULL) {
        errand->call.page = true;
        errand->call.desk = actor->desk;
        json_object_set_new(body, "by", json_string(actor->name));
        if (actor->note) errand->noted = g_strconcat(endpoint->method, " ", endpoint->path, NULL);
    }
    submit(errand);
}

/* How things stand, for a machine. It goes through the store like any call, so an answer says that jobs are done. To a probe
 * that nothing can be written is trouble enough; who keeps figures gets them. */
static void watch(Daemon *daemon, ServeRequest *request, Audience audience)
{
    char *ids[2];
    bool known_path;
    Errand *errand = g_new0(Errand, 1);

    *errand = (Errand){.daemon = daemon,
                       .request = request,
                       .audience = audience,
                       .reads = audience == FOR_METRICS,
                       .endpoint = endpoint_find("GET", "/status", ids, &known_path),
                       .call = {.body = json_object()}};
    submit(errand);
}

void control_call(Daemon *daemon, ServeRequest *request, const ControlActor *actor)
{
    start(daemon, request, actor);
}

void control_handle(ServeRequest *request, void *context)
{
    Daemon *daemon = context;
    const char *path = serve_path(request);
    bool post = strcmp(serve_method(request), "POST") == 0;
    bool get = strcmp(serve_method(request), "GET") == 0;

    if (post && strcmp(path, "/clock") == 0)
        move_clock(daemon, request);
    else if (post && strcmp(path, "/backup") == 0)
        keep_copy(daemon_keep(daemon), copy_made, request);
    else if (get && strcmp(path, "/metrics") == 0)
        watch(daemon, request, FOR_METRICS);
    else if (get && strcmp(path, "/healthz") == 0)
        watch(daemon, request, FOR_PROBE);
    else if (!post || !meet_replicas(daemon, request, path))
        start(daemon, request, NULL);
}
