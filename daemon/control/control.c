/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/control/control.h"

#include <string.h>

#include "adapters/store/find_access.h"
#include "daemon/cli/cli.h"
#include "daemon/control/handlers.h"

static const Route ROUTES[] = {
    {"POST", "/clients", handle_client_add},
    {"GET", "/clients", handle_client_list},
    {"GET", "/clients/{id}", handle_client_show},
    {"POST", "/clients/{id}", handle_client_set},
    {"POST", "/clients/{id}/pause", handle_client_pause},
    {"POST", "/clients/{id}/resume", handle_client_resume},
    {"POST", "/clients/{id}/end", handle_client_end},
    {"GET", "/clients/{id}/summary", handle_client_summary},
    {"POST", "/clients/{id}/erase", handle_client_erase},
    {"POST", "/clients/{id}/screen", handle_screen},
    {"POST", "/clients/{id}/plan", handle_plan_set},
    {"GET", "/clients/{id}/plan", handle_plan_show},
    {"POST", "/clients/{id}/plan/move", handle_plan_move},
    {"GET", "/clients/{id}/ready", handle_ready},
    {"POST", "/clients/{id}/measures", handle_measure_add},
    {"GET", "/clients/{id}/measures", handle_measure_list},
    {"GET", "/clients/{id}/sessions", handle_sessions},
    {"POST", "/clients/{id}/reports", handle_report},
    {"GET", "/clients/{id}/adherence", handle_adherence},
    {"GET", "/alerts", handle_alert_list},
    {"POST", "/clients/{id}/alerts", handle_alert_open},
    {"POST", "/alerts/{id}/take", handle_alert_take},
    {"POST", "/alerts/{id}/close", handle_alert_close},
    {"GET", "/messages", handle_messages},
    {"GET", "/replies", handle_replies},
    {"GET", "/unread", handle_unread},
    {"POST", "/unread/{id}/settle", handle_unread_settle},
    {"GET", "/glance", handle_glance},
    {"POST", "/glance/{id}/seen", handle_glance_seen},
    {"GET", "/calls", handle_calls},
    {"GET", "/week", handle_week},
    {"GET", "/why/{id}", handle_why},
    {"GET", "/status", handle_status},
    {"GET", "/today", handle_today},
    {"GET", "/roster", handle_roster},
    {"GET", "/clients/{id}/course", handle_course},
    {"GET", "/programmes", handle_programmes},
    {"POST", "/enrolments", handle_enrolment},
    {"GET", "/accounts", handle_account_list},
    {"POST", "/accounts", handle_account_add},
    {"POST", "/accounts/{id}/link", handle_account_link},
    {"POST", "/accounts/{id}/close", handle_account_close},
    {"GET", "/looks", handle_looks},
    {"GET", "/sync", handle_sync_status},
    {"GET", "/sender", handle_sender_show},
    {"POST", "/sender", handle_sender_take},
};

/* Fields that a GET may name in its query. */
static const char *const QUERY[] = {"from", "to", "days",   "client", "since",
                                    "all",  "of", "format", "name",   "skip"};

/* Does the path fit the route? Fills ids with its {id} parts. */
static bool fits(const Route *route, const char *path, char *ids[2])
{
    g_auto(GStrv) want = g_strsplit(route->path, "/", -1);
    g_auto(GStrv) have = g_strsplit(path, "/", 16);
    int n = 0;

    if (g_strv_length(want) != g_strv_length(have)) return false;
    for (int i = 0; want[i] != NULL; i++)
        if (strcmp(want[i], "{id}") != 0 && strcmp(want[i], have[i]) != 0) return false;
    for (int i = 0; want[i] != NULL && n < 2; i++)
        if (strcmp(want[i], "{id}") == 0) ids[n++] = g_strdup(have[i]);
    return true;
}

const Route *route_find(const char *method, const char *path, char *ids[2], bool *known_path)
{
    *known_path = false;
    for (size_t i = 0; i < G_N_ELEMENTS(ROUTES); i++) {
        char *found[2] = {NULL, NULL};
        if (!fits(&ROUTES[i], path, found)) continue;
        *known_path = true;
        if (strcmp(ROUTES[i].method, method) == 0) {
            ids[0] = found[0];
            ids[1] = found[1];
            return &ROUTES[i];
        }
        g_free(found[0]);
        g_free(found[1]);
    }
    return NULL;
}

typedef struct {
    Daemon *daemon;
    ServeRequest *request;
    const Route *route;
    Call call;
    char *noted; /* what is written down of it, and under whose name; NULL: nothing */
} Errand;

static void errand_free(Errand *errand)
{
    g_free(errand->call.id[0]);
    g_free(errand->call.id[1]);
    json_decref(errand->call.body);
    json_decref(errand->call.answer);
    g_free(errand->call.about);
    g_free(errand->noted);
    g_free(errand);
}

static void send_answer(ServeRequest *request, int status, const json_t *document)
{
    serve_answer_json(request, status, json_dumps(document, JSON_COMPACT | JSON_ENCODE_ANY));
}

static void send_fault(ServeRequest *request, int status, int exit_code, const char *what,
                       const char *value, const char *why)
{
    json_t *document = json_pack("{s:{s:s, s:s, s:s, s:i}}", "error", "what", what, "value", value,
                                 "why", why, "exit", exit_code);

    send_answer(request, status, document);
    json_decref(document);
}

static bool run_call(Job *job, void *context)
{
    Errand *errand = context;
    bool kept = errand->route->handler(job, &errand->call);

    /* After an error of the store its rows are not there, and what a handler says counts for nothing. */
    if (errand->call.answer == NULL)
        return call_fail(&errand->call, EXIT_IO, "osierd", "", "has no answer to this");
    if (kept && errand->noted != NULL)
        look_note(job->tx, call_author(&errand->call), errand->call.about,
                  strcmp(errand->route->method, "POST") == 0, errand->noted);
    return kept;
}

/* What only the loop knows is added to the status. */
static void add_lines(Errand *errand)
{
    if (errand->route->handler != handle_status) return;
    json_object_set_new(errand->call.answer, "gateways", relay_json(daemon_relay(errand->daemon)));
    json_object_set_new(errand->call.answer, "line", relay_line_json(daemon_relay(errand->daemon)));
    json_object_set_new(errand->call.answer, "polls", intake_json(daemon_intake(errand->daemon)));
    json_object_set_new(errand->call.answer, "backup", keep_json(daemon_keep(errand->daemon)));
}

static void call_done(StoreStatus status, void *context)
{
    Errand *errand = context;

    if (status == STORE_FULL || status == STORE_FAILED) {
        send_fault(errand->request, 503, EXIT_LATER, "store", "",
                   status == STORE_FULL ? "there is no room on the device; nothing was changed"
                                        : "the store has failed; nothing was changed");
    } else {
        if (errand->call.status == 200) add_lines(errand);
        if (errand->call.status == 200 && g_str_has_prefix(errand->route->path, "/accounts") &&
            strcmp(errand->route->method, "POST") == 0)
            daemon_accounts_changed(errand->daemon);
        if (errand->call.status == 200 && errand->route->handler == handle_client_erase)
            keep_renew(daemon_keep(errand->daemon));
        send_answer(errand->request, errand->call.status, errand->call.answer);
    }
    errand_free(errand);
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
        send_fault(request, 400, EXIT_DATA, "body", "", "is no JSON object");
        return NULL;
    }
    for (size_t i = 0; i < G_N_ELEMENTS(QUERY); i++) {
        const char *value = serve_query(request, QUERY[i]);
        if (value != NULL && g_utf8_validate(value, -1, NULL))
            json_object_set_new(body, QUERY[i], json_string(value));
    }
    return body;
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
        send_fault(step->request, 500, EXIT_IO, "clock", "", stuck);
    } else {
        int64_t next = clock_next(clock);
        g_autofree char *now = instant_format_exact(clock_now(clock));
        g_autofree char *due = next == CLOCK_NEVER ? NULL : instant_format_exact(next);
        json_t *document = json_pack("{s:s, s:s?}", "now", now, "next_due", due);
        send_answer(step->request, 200, document);
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
        send_fault(request, 409, EXIT_SETTINGS, "clock", "",
                   "it runs by itself; only osierd --clock is stepped");
    } else if (to == NULL || !instant_parse(to, &to_ms)) {
        send_fault(request, 400, EXIT_DATA, "to", to != NULL ? to : "",
                   "is no instant; write it as 2026-03-02T08:00:00Z");
    } else {
        Step *step = g_new0(Step, 1);
        *step = (Step){.daemon = daemon, .request = request};
        stepper_to(stepper, to_ms, stepped, step);
    }
    json_decref(body);
}

/* --- a copy --- */

static void copy_made(const char *file, const char *problem, void *context)
{
    if (file == NULL) {
        send_fault(context, 500, EXIT_IO, "backup", "", problem);
        return;
    }
    json_t *document = json_pack("{s:s}", "file", file);
    send_answer(context, 200, document);
    json_decref(document);
}

/* Runs a call as a job. actor NULL: it came by the socket. */
static void start(Daemon *daemon, ServeRequest *request, const ControlActor *actor)
{
    const char *path = serve_path(request);
    char *ids[2] = {NULL, NULL};
    bool known_path;
    const Route *route = route_find(serve_method(request), path, ids, &known_path);
    json_t *body = route != NULL ? read_body(request) : NULL;

    if (route == NULL)
        send_fault(request, known_path ? 405 : 404, EXIT_USE, "path", path,
                   known_path ? "is not called by that method" : "is not known");
    if (body == NULL) {
        g_free(ids[0]);
        g_free(ids[1]);
        return;
    }
    Errand *errand = g_new0(Errand, 1);
    *errand = (Errand){.daemon = daemon,
                       .request = request,
                       .route = route,
                       .call = {.id = {ids[0], ids[1]}, .body = body}};
    if (actor != NULL) {
        errand->call.page = true;
        errand->call.desk = actor->desk;
        json_object_set_new(body, "by", json_string(actor->name));
        if (actor->note) errand->noted = g_strconcat(route->method, " ", route->path, NULL);
    }
    desk_submit(daemon_desk(daemon), run_call, call_done, errand);
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

    if (post && strcmp(path, "/clock") == 0)
        move_clock(daemon, request);
    else if (post && strcmp(path, "/backup") == 0)
        keep_copy(daemon_keep(daemon), copy_made, request);
    else
        start(daemon, request, NULL);
}
