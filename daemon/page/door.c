/* SPDX-License-Identifier: Apache-2.0 */
/* A log-in waits for a hash that is made off the loop, so everything about it lives in an Entry
 * until then. Nothing tells a stranger whether a name is known: unknown ones cost as much time. */
#include "daemon/page/door.h"

#include <string.h>

#include "adapters/page/password.h"
#include "daemon/cli/cli.h"
#include "daemon/page/account.h"
#include "daemon/page/hasher.h"
#include "daemon/page/throttle.h"

#define NAME_BYTES_MAX 400

struct Door {
    uv_loop_t *loop;
    Daemon *daemon;
    Sessions *sessions;
    Hasher *hasher;
    Throttle *throttle;
    GPtrArray *accounts; /* of Row: open ones with a password */
    const Guard *guard;
    int entries;
    bool closing;
};

/* Somebody at the door. */
typedef struct {
    Door *door;
    ServeRequest *request;
    char *key;
    char *token; /* of the one-time link, or NULL */
    char *hash;
    Row *account; /* entered by the link */
} Entry;

Door *door_new(uv_loop_t *loop, Daemon *daemon, Sessions *sessions)
{
    Door *door = g_new0(Door, 1);

    *door = (Door){.loop = loop,
                   .daemon = daemon,
                   .sessions = sessions,
                   .hasher = hasher_new(loop),
                   .throttle = throttle_new(),
                   .accounts = g_ptr_array_new()};
    return door;
}

static void door_free(Door *door)
{
    throttle_free(door->throttle);
    g_ptr_array_unref(door->accounts);
    g_free(door);
}

void door_close(Door *door)
{
    door->closing = true;
    door->entries++;
    hasher_close(door->hasher);
    if (--door->entries == 0) door_free(door);
}

void door_set_accounts(Door *door, GPtrArray *accounts)
{
    g_ptr_array_unref(door->accounts);
    door->accounts = accounts;
}

void door_set_guard(Door *door, const Guard *guard)
{
    door->guard = guard;
}

static int64_t now(const Door *door)
{
    return (int64_t)uv_now(door->loop);
}

static void entry_free(Entry *entry)
{
    Door *door = entry->door;

    g_free(entry->key);
    g_free(entry->token);
    g_free(entry->hash);
    row_free(entry->account);
    g_free(entry);
    if (--door->entries == 0 && door->closing) door_free(door);
}

static Entry *entry_new(Door *door, ServeRequest *request)
{
    Entry *entry = g_new0(Entry, 1);

    *entry = (Entry){.door = door, .request = request};
    door->entries++;
    return entry;
}

void door_refuse(ServeRequest *request, int status, const char *what, const char *why)
{
    static const char *const LATER[] = {"Retry-After: 60", NULL};
    json_t *document = json_pack("{s:{s:s, s:s, s:s, s:i}}", "error", "what", what, "value", "",
                                 "why", why, "exit", EXIT_NOT_ALLOWED);

    if (status == 503) serve_also(request, LATER);
    serve_answer_json(request, status, json_dumps(document, JSON_COMPACT));
    json_decref(document);
}

json_t *door_session_json(const Door *door, const PageSession *session)
{
    const Clinic *clinic = settings_clinic(desk_settings(daemon_desk(door->daemon)));

    if (session == NULL) return json_pack("{s:n, s:s}", "name", "clinic", clinic->name);
    return json_pack("{s:s, s:s, s:s, s:s, s:I}", "name", session->name, "role",
                     session->desk ? "desk" : "clinician", "token", session->token, "clinic",
                     clinic->name, "idle_s", (json_int_t)(clinic->page_idle_ms / SECOND_MS));
}

static void let_in(Entry *entry, const Row *account)
{
    Door *door = entry->door;
    bool desk = strcmp(row_text(account, ACCOUNT_ROLE), "desk") == 0;
    g_autofree char *cookie = sessions_open(door->sessions, row_text(account, ACCOUNT_KEY),
                                            row_text(account, ACCOUNT_NAME), desk, now(door));
    g_autofree char *line = guard_set_cookie(door->guard, cookie);
    const char *const headers[] = {line, NULL};
    json_t *document =
        door_session_json(door, sessions_find(door->sessions, cookie, now(door), true));
    char *text = json_dumps(document, JSON_COMPACT);

    json_decref(document);
    serve_answer(entry->request, 200, "application/json", headers,
                 g_bytes_new_take(text, strlen(text)));
}

static const Row *account_of(const Door *door, const char *key)
{
    for (guint i = 0; i < door->accounts->len; i++)
        if (strcmp(row_text(door->accounts->pdata[i], ACCOUNT_KEY), key) == 0)
            return door->accounts->pdata[i];
    return NULL;
}

/* --- by password --- */

static void checked(bool good, char *hash, void *context)
{
    Entry *entry = context;
    Door *door = entry->door;
    const Row *account = good && !door->closing ? account_of(door, entry->key) : NULL;

    g_free(hash);
    if (door->closing) { /* the daemon is gone before what is hashed now */
        door_refuse(entry->request, 503, "log-in", "osierd stops");
    } else if (account != NULL) {
        throttle_good(door->throttle, entry->key);
        let_in(entry, account);
    } else {
        log_line(desk_log(daemon_desk(door->daemon)), LOG_WARNINGS, "login.refused", NULL);
        door_refuse(entry->request, 401, "log-in", "name and password do not belong together");
    }
    entry_free(entry);
}

void door_log_in(Door *door, ServeRequest *request, const json_t *body)
{
    const char *name = json_string_value(json_object_get(body, "name"));
    const char *password = json_string_value(json_object_get(body, "password"));

    if (name == NULL || password == NULL || strlen(name) > NAME_BYTES_MAX ||
        strlen(password) > PASSWORD_BYTES_MAX) {
        door_refuse(request, 400, "log-in", "needs a name and a password");
        return;
    }
    g_autofree char *key = account_key(name);
    int64_t wait_ms = throttle_wait_ms(door->throttle, key, now(door));
    if (wait_ms > 0) {
        g_autofree char *why = g_strdup_printf(
            "too many wrong passwords for this name; try again in %d s", (int)(wait_ms / 1000) + 1);
        g_autofree char *later = g_strdup_printf("Retry-After: %d", (int)(wait_ms / 1000) + 1);
        const char *const headers[] = {later, NULL};
        serve_also(request, headers);
        door_refuse(request, 429, "log-in", why);
        return;
    }
    const Row *account = account_of(door, key);
    Entry *entry = entry_new(door, request);
    entry->key = g_strdup(key);
    throttle_try(door->throttle, key, now(door));
    if (hasher_check(door->hasher, account != NULL ? row_text(account, ACCOUNT_PASSWORD) : NULL,
                     g_strdup(password), checked, entry))
        return;
    door_refuse(request, 503, "log-in", "too many people log in at once; try again");
    entry_free(entry);
}

/* --- by a one-time link --- */

static bool enter_job(Job *job, void *context)
{
    Entry *entry = context;

    entry->account = account_invited(job, entry->token);
    if (entry->account == NULL) return false;
    account_enter(job, entry->account, entry->hash);
    return true;
}

static void entered(StoreStatus status, void *context)
{
    Entry *entry = context;
    Door *door = entry->door;

    if (status == STORE_OK && !door->closing) {
        /* Whoever was logged in with an old password is not any more. */
        sessions_end_of(door->sessions, row_text(entry->account, ACCOUNT_KEY));
        throttle_good(door->throttle, row_text(entry->account, ACCOUNT_KEY));
        daemon_accounts_changed(door->daemon);
        let_in(entry, entry->account);
    } else {
        door_refuse(entry->request, status == STORE_UNDONE ? 403 : 503, "link",
                    status == STORE_UNDONE
                        ? "was used already or has run out; ask for a new one (osier account link)"
                        : "nothing can be written just now; try again");
    }
    entry_free(entry);
}

static void hashed(bool good, char *hash, void *context)
{
    Entry *entry = context;

    if (!good || entry->door->closing) {
        g_free(hash);
        door_refuse(entry->request, 503, "password", "cannot be kept just now; try again");
        entry_free(entry);
        return;
    }
    entry->hash = hash;
    desk_submit(daemon_desk(entry->door->daemon), enter_job, entered, entry);
}

void door_welcome(Door *door, ServeRequest *request, const json_t *body)
{
    const char *token = json_string_value(json_object_get(body, "token"));
    const char *password = json_string_value(json_object_get(body, "password"));

    if (token == NULL || password == NULL || strlen(token) > NAME_BYTES_MAX) {
        door_refuse(request, 400, "link", "needs its token and a password");
        return;
    }
    if (strlen(password) > PASSWORD_BYTES_MAX || g_utf8_strlen(password, -1) < PASSWORD_CHARS_MIN) {
        door_refuse(request, 400, "password", "must have 12 characters at least; several words do");
        return;
    }
    Entry *entry = entry_new(door, request);
    entry->token = g_strdup(token);
    if (hasher_make(door->hasher, g_strdup(password), hashed, entry)) return;
    door_refuse(request, 503, "password", "too many people log in at once; try again");
    entry_free(entry);
}
