/* SPDX-License-Identifier: Apache-2.0 */
/* Every request passes, in this order: the name of this page, the method, where a change comes from,
 * the session, the token, the rights. Only then does the JSON API see it. What a mail's one click asks for passes by the name
 * and its own token alone. */
#include "daemon/page/page.h"

#include <stdio.h>
#include <string.h>

#include "adapters/page/assets.h"
#include "adapters/page/guard.h"
#include "adapters/page/password.h"
#include "adapters/serve/serve_mhd.h"
#include "adapters/store/find_access.h"
#include "daemon/control/control.h"
#include "daemon/page/changes.h"
#include "daemon/page/door.h"
#include "daemon/page/feed.h"
#include "daemon/page/rights.h"
#include "daemon/page/sessions.h"
#include "daemon/page/unsubscribe.h"

#define SESSION_LIVES_MS (12 * HOUR_MS)

static const ServeLimits LIMITS = {.body_max = 64 * 1024,
                                   .connections_max = 256,
                                   .yields = true,
                                   .idle_timeout_s = 20,
                                   .streams_max = 96};

struct Page {
    uv_loop_t *loop;
    Daemon *daemon;
    Sessions *sessions;
    Door *door;
    Changes *changes;
    Guard *guard;
    Feed *feed;
    Unsubscribe *unsubscribe;
    Serve *serve;  /* NULL: nobody may enter yet */
    char *listens; /* where */
    int loading;
    bool closing;
};

/* --- requests ----------------------------------------------------------------------------------- */

static void answer_json(ServeRequest *request, json_t *document)
{
    serve_answer_json(request, 200, json_dumps(document, JSON_COMPACT));
    json_decref(document);
}

static json_t *body_of(ServeRequest *request)
{
    gsize length;
    const char *bytes = g_bytes_get_data(serve_body(request), &length);
    json_t *body = length > 0 ? json_loadb(bytes, length, JSON_REJECT_DUPLICATES, NULL) : NULL;

    if (json_is_object(body)) return body;
    json_decref(body);
    door_refuse(request, 400, "body", "is no JSON object");
    return NULL;
}

static bool is_json(const ServeRequest *request)
{
    const char *type = serve_header(request, "content-type");

    return type != NULL && g_ascii_strncasecmp(type, "application/json", 16) == 0 &&
           (type[16] == '\0' || type[16] == ';' || type[16] == ' ');
}

/* False after refusing what does not come from this page itself. */
static bool admit(const Page *page, ServeRequest *request, bool post)
{
    const char *why = NULL;
    int status = 403;

    if (!guard_host(page->guard, serve_header(request, "host"))) {
        status = 421;
        why = "this page has another name";
    } else if (!post && strcmp(serve_method(request), "GET") != 0) {
        status = 405;
        why = "only GET and POST are known here";
    } else if (post && !guard_origin(page->guard, serve_header(request, "origin"),
                                     serve_header(request, "sec-fetch-site"))) {
        why = "a change must come from this page itself";
    } else if (post && !is_json(request)) {
        status = 415;
        why = "a change is sent as application/json";
    }
    if (why == NULL) return true;
    door_refuse(request, status, "request", why);
    return false;
}

static bool serve_file(ServeRequest *request)
{
    const char *type;
    GBytes *file = asset_find(serve_path(request), &type);

    if (file == NULL) return false;
    serve_answer(request, 200, type, NULL, file);
    return true;
}

/* What is asked by the page on its own account does not count as a person's doing. */
static bool is_persons(const ServeRequest *request)
{
    return serve_header(request, "x-osier-quiet") == NULL;
}

static void log_out(Page *page, ServeRequest *request, const char *cookie)
{
    g_autofree char *line = guard_set_cookie(page->guard, NULL);
    const char *const headers[] = {line, NULL};

    sessions_end(page->sessions, cookie);
    serve_answer(request, 200, "application/json", headers, g_bytes_new_static("{}", 2));
}

static void call_api(Page *page, ServeRequest *request, PageSession *session)
{
    bool shows;
    bool post = strcmp(serve_method(request), "POST") == 0;
    Right right = right_of(serve_method(request), serve_path(request), &shows);
    const char *client = serve_query(request, "client");
    g_autofree char *what = g_strconcat(serve_path(request), " ", client, NULL);

    if (right == RIGHT_NONE) {
        door_refuse(request, 404, "path", "is not known");
        return;
    }
    if (right == RIGHT_CLINICIAN && session->desk) {
        door_refuse(request, 403, "call", "is for a clinician");
        return;
    }
    ControlActor actor = {.name = session->name, .desk = session->desk, .note = post};
    if (!post && shows) actor.note = session_notes(session, what, (int64_t)uv_now(page->loop));
    control_call(page->daemon, request, &actor);
}

static void inside(Page *page, ServeRequest *request, PageSession *session, const char *cookie)
{
    const char *path = serve_path(request);
    bool post = strcmp(serve_method(request), "POST") == 0;

    if (post && !token_same(serve_header(request, "x-osier-token"), session->token))
        door_refuse(request, 403, "token", "is missing, or of another log-in; load the page anew");
    else if (post && strcmp(path, "/session/end") == 0)
        log_out(page, request, cookie);
    else if (!post && strcmp(path, "/changes") == 0)
        changes_listen(page->changes, request, session->key);
    else
        call_api(page, request, session);
}

static void handle(ServeRequest *request, void *context)
{
    Page *page = context;
    const char *path = serve_path(request);
    bool post = strcmp(serve_method(request), "POST") == 0;
    bool enters = post && (strcmp(path, "/session") == 0 || strcmp(path, "/welcome") == 0);

    if (daemon_is_stopping(page->daemon)) {
        door_refuse(request, 503, "osierd", "stops; try again once it is back");
        return;
    }
    /* A mail program's one click comes from no page and without a session. */
    if (guard_host(page->guard, serve_header(request, "host")) &&
        unsubscribe_answer(page->unsubscribe, request))
        return;
    serve_also(request, guard_headers());
    if (!admit(page, request, post) || (!post && serve_file(request))) return;
    if (!post && feed_answer(page->feed, request)) return;
    g_autofree char *cookie = guard_cookie(page->guard, serve_header(request, "cookie"));
    PageSession *session = sessions_find(page->sessions, cookie, (int64_t)uv_now(page->loop),
                                         is_persons(request) && strcmp(path, "/changes") != 0);
    if (!post && strcmp(path, "/session") == 0) {
        answer_json(request, door_session_json(page->door, session));
    } else if (enters) {
        json_t *body = body_of(request);
        if (body == NULL) return;
        if (strcmp(path, "/session") == 0)
            door_log_in(page->door, request, body);
        else
            door_welcome(page->door, request, body);
        json_decref(body);
    } else if (session == NULL) {
        door_refuse(request, 401, "session", "there is none, or it has ended; log in");
    } else {
        serve_known(request);
        inside(page, request, session, cookie);
    }
}

/* --- listening ---------------------------------------------------------------------------------- */

static void stop_listening(Page *page)
{
    if (page->serve != NULL) page->serve->close(page->serve);
    page->serve = NULL;
    g_clear_pointer(&page->listens, g_free);
}

/* Where to listen, and by which names to be known: what changes of it starts the listener anew. */
static void listen_now(Page *page, bool wanted)
{
    const Clinic *clinic = settings_clinic(desk_settings(daemon_desk(page->daemon)));
    g_autofree char *why = NULL;
    g_autofree char *where = g_strconcat(clinic->page_listen, " ", clinic->page_url, NULL);

    if (!wanted) {
        stop_listening(page);
        return;
    }
    if (g_strcmp0(where, page->listens) == 0) return;
    stop_listening(page);
    guard_free(page->guard);
    page->guard = guard_new(clinic->page_listen, clinic->page_url);
    door_set_guard(page->door, page->guard);
    page->serve = serve_tcp_new(page->loop, clinic->page_listen, &LIMITS, handle, page, &why);
    if (page->serve == NULL) {
        log_line(desk_log(daemon_desk(page->daemon)), LOG_ERRORS, "page.refused", "listen",
                 clinic->page_listen, "why", why, "then", "the page is not served", NULL);
        return;
    }
    page->listens = g_strdup(where);
    printf("osierd: the page is at %s%s\n", clinic->page_url != NULL ? "" : "http://",
           clinic->page_url != NULL ? clinic->page_url : clinic->page_listen);
    fflush(stdout);
}

static void page_free(Page *page)
{
    sessions_free(page->sessions);
    guard_free(page->guard);
    feed_free(page->feed);
    unsubscribe_free(page->unsubscribe);
    g_free(page);
}

typedef struct {
    Page *page;
    GPtrArray *rows;
} Load;

static bool load_job(Job *job, void *context)
{
    Load *load = context;

    g_clear_pointer(&load->rows, g_ptr_array_unref);
    load->rows = find_accounts(job->tx);
    return true;
}

static void take_accounts(Page *page, const GPtrArray *rows)
{
    GPtrArray *open = g_ptr_array_new_with_free_func((GDestroyNotify)row_free);
    bool wanted = false;

    for (guint i = 0; i < rows->len; i++) {
        const Row *row = rows->pdata[i];
        if (!row_is_null(row, ACCOUNT_CLOSED_AT)) {
            sessions_end_of(page->sessions, row_text(row, ACCOUNT_KEY));
            changes_let_go(page->changes, row_text(row, ACCOUNT_KEY));
            continue;
        }
        wanted = true;
        if (!row_is_null(row, ACCOUNT_PASSWORD)) g_ptr_array_add(open, row_copy(row));
    }
    door_set_accounts(page->door, open);
    listen_now(page, wanted);
}

/* Where nothing could be read who may enter stays as it was, and the daemon has it read again. */
static void loaded(StoreStatus status, void *context)
{
    Load *load = context;
    Page *page = load->page;

    page->loading--;
    if (!page->closing && desk_has_read(status)) take_accounts(page, load->rows);
    g_clear_pointer(&load->rows, g_ptr_array_unref);
    g_free(load);
    if (page->closing && page->loading == 0) page_free(page);
}

static void load(Page *page)
{
    Load *load = g_new0(Load, 1);

    load->page = page;
    page->loading++;
    desk_read(daemon_desk(page->daemon), load_job, loaded, load);
}

static void on_moved(void *context)
{
    changes_moved(((Page *)context)->changes);
}

static void on_accounts(void *context)
{
    load(context);
}

Page *page_new(uv_loop_t *loop, Daemon *daemon)
{
    Page *page = g_new0(Page, 1);
    const Clinic *clinic = settings_clinic(desk_settings(daemon_desk(daemon)));

    page->loop = loop;
    page->daemon = daemon;
    page->sessions = sessions_new(clinic->page_idle_ms, SESSION_LIVES_MS);
    page->door = door_new(loop, daemon, page->sessions);
    page->changes = changes_new(loop);
    page->feed = feed_new(loop, daemon);
    page->unsubscribe = unsubscribe_new(loop, daemon);
    daemon_tell(daemon, on_moved, on_accounts, page);
    load(page);
    return page;
}

void page_reload(Page *page)
{
    const Clinic *clinic = settings_clinic(desk_settings(daemon_desk(page->daemon)));

    sessions_set_idle(page->sessions, clinic->page_idle_ms);
    load(page);
}

int page_busy(const Page *page)
{
    return page->serve != NULL ? page->serve->open_requests(page->serve) : 0;
}

void page_close(Page *page)
{
    page->closing = true;
    daemon_tell(page->daemon, NULL, NULL, NULL);
    stop_listening(page);
    door_close(page->door);
    changes_close(page->changes);
    if (page->loading == 0) page_free(page);
}
