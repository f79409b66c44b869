/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/page/sessions.h"

#include <string.h>

#include "adapters/page/password.h"

enum { OF_ONE_MOST = 10, NOTED_MOST = 4000 };

#define NOTE_AGAIN_MS (10 * 60 * 1000)

struct Sessions {
    int64_t idle_ms;
    int64_t life_ms;
    GHashTable *open; /* hash of the cookie -> PageSession */
};

static void session_free(void *gone)
{
    PageSession *session = gone;

    g_free(session->key);
    g_free(session->name);
    g_free(session->token);
    g_hash_table_unref(session->noted);
    g_free(session);
}

Sessions *sessions_new(int64_t idle_ms, int64_t life_ms)
{
    Sessions *sessions = g_new0(Sessions, 1);

    password_start();
    *sessions = (Sessions){idle_ms, life_ms,
                           g_hash_table_new_full(g_str_hash, g_str_equal, g_free, session_free)};
    return sessions;
}

void sessions_free(Sessions *sessions)
{
    if (sessions == NULL) return;
    g_hash_table_unref(sessions->open);
    g_free(sessions);
}

void sessions_set_idle(Sessions *sessions, int64_t idle_ms)
{
    sessions->idle_ms = idle_ms;
}

static bool is_over(const Sessions *sessions, const PageSession *session, int64_t now_ms)
{
    return now_ms - session->used_ms >= sessions->idle_ms ||
           now_ms - session->born_ms >= sessions->life_ms;
}

/* Takes out what is over, and the account's oldest where it has as many as it may. */
static void make_room(Sessions *sessions, const char *key, int64_t now_ms)
{
    GHashTableIter iter;
    gpointer id, found;
    const char *oldest = NULL;
    int64_t oldest_ms = INT64_MAX;
    int of_one = 0;

    g_hash_table_iter_init(&iter, sessions->open);
    while (g_hash_table_iter_next(&iter, &id, &found)) {
        const PageSession *session = found;
        if (is_over(sessions, session, now_ms)) {
            g_hash_table_iter_remove(&iter);
            continue;
        }
        if (strcmp(session->key, key) != 0) continue;
        of_one++;
        if (session->used_ms < oldest_ms) oldest_ms = session->used_ms, oldest = id;
    }
    if (of_one >= OF_ONE_MOST) g_hash_table_remove(sessions->open, oldest);
}

char *sessions_open(Sessions *sessions, const char *key, const char *name, bool desk,
                    int64_t now_ms)
{
    char *cookie = token_new();
    PageSession *session = g_new0(PageSession, 1);

    make_room(sessions, key, now_ms);
    *session =
        (PageSession){.key = g_strdup(key),
                      .name = g_strdup(name),
                      .desk = desk,
                      .token = token_new(),
                      .born_ms = now_ms,
                      .used_ms = now_ms,
                      .noted = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, g_free)};
    g_hash_table_insert(sessions->open, token_hash(cookie), session);
    return cookie;
}

PageSession *sessions_find(Sessions *sessions, const char *cookie, int64_t now_ms, bool touch)
{
    if (cookie == NULL) return NULL;
    g_autofree char *id = token_hash(cookie);
    PageSession *session = g_hash_table_lookup(sessions->open, id);

    if (session == NULL) return NULL;
    if (is_over(sessions, session, now_ms)) {
        g_hash_table_remove(sessions->open, id);
        return NULL;
    }
    if (touch) session->used_ms = now_ms;
    return session;
}

bool session_notes(PageSession *session, const char *what, int64_t now_ms)
{
    int64_t *last = g_hash_table_lookup(session->noted, what);

    if (last != NULL && now_ms - *last < NOTE_AGAIN_MS) return false;
    if (g_hash_table_size(session->noted) >= NOTED_MOST) g_hash_table_remove_all(session->noted);
    last = g_new(int64_t, 1);
    *last = now_ms;
    g_hash_table_replace(session->noted, g_strdup(what), last);
    return true;
}

void sessions_end(Sessions *sessions, const char *cookie)
{
    g_autofree char *id = token_hash(cookie);

    g_hash_table_remove(sessions->open, id);
}

static gboolean is_of(gpointer id, gpointer found, gpointer key)
{
    (void)id;
    return strcmp(((const PageSession *)found)->key, key) == 0;
}

void sessions_end_of(Sessions *sessions, const char *key)
{
    g_hash_table_foreach_remove(sessions->open, is_of, (gpointer)key);
}
