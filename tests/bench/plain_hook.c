/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/bench/plain_hook.h"

#include <arpa/inet.h>
#include <glib.h>
#include <microhttpd.h>
#include <sqlite3.h>
#include <string.h>

struct PlainHook {
    struct MHD_Daemon *daemon;
    sqlite3 *db;
    sqlite3_stmt *insert;
};

static enum MHD_Result answer(struct MHD_Connection *connection, unsigned status)
{
    struct MHD_Response *response =
        MHD_create_response_from_buffer(2, (void *)"{}", MHD_RESPMEM_PERSISTENT);
    enum MHD_Result result = MHD_queue_response(connection, status, response);

    MHD_destroy_response(response);
    return result;
}

static unsigned insert(PlainHook *hook, const GString *body)
{
    sqlite3_bind_text(hook->insert, 1, body->str, (int)body->len, SQLITE_STATIC);
    int code = sqlite3_step(hook->insert);
    sqlite3_reset(hook->insert);
    return code == SQLITE_DONE ? 200 : 503;
}

static enum MHD_Result hear(void *cls, struct MHD_Connection *connection, const char *url,
                            const char *method, const char *version, const char *data, size_t *size,
                            void **context)
{
    GString *body = *context;

    (void)url;
    (void)method;
    (void)version;
    if (body == NULL) {
        *context = g_string_new(NULL);
        return MHD_YES;
    }
    if (*size > 0) {
        g_string_append_len(body, data, (gssize)*size);
        *size = 0;
        return MHD_YES;
    }
    return answer(connection, insert(cls, body));
}

static void ended(void *cls, struct MHD_Connection *connection, void **context,
                  enum MHD_RequestTerminationCode code)
{
    (void)cls;
    (void)connection;
    (void)code;
    if (*context != NULL) g_string_free(*context, TRUE);
}

static void open_db(PlainHook *hook, const char *folder)
{
    g_autofree char *path = g_build_filename(folder, "plain.db", NULL);

    g_assert(sqlite3_open(path, &hook->db) == SQLITE_OK);
    g_assert(sqlite3_exec(hook->db,
                          "PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL;"
                          "CREATE TABLE heard (number INTEGER PRIMARY KEY, body TEXT NOT NULL)",
                          NULL, NULL, NULL) == SQLITE_OK);
    g_assert(sqlite3_prepare_v2(hook->db, "INSERT INTO heard (body) VALUES (?1)", -1, &hook->insert,
                                NULL) == SQLITE_OK);
}

PlainHook *plain_hook_new(const char *folder, int *port)
{
    PlainHook *hook = g_new0(PlainHook, 1);
    struct sockaddr_in address = {.sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};

    open_db(hook, folder);
    hook->daemon = MHD_start_daemon(MHD_USE_EPOLL_INTERNAL_THREAD, 0, NULL, NULL, hear, hook,
                                    MHD_OPTION_SOCK_ADDR, &address, MHD_OPTION_NOTIFY_COMPLETED,
                                    ended, NULL, MHD_OPTION_END);
    g_assert(hook->daemon != NULL);
    *port = MHD_get_daemon_info(hook->daemon, MHD_DAEMON_INFO_BIND_PORT)->port;
    return hook;
}

void plain_hook_free(PlainHook *hook)
{
    MHD_stop_daemon(hook->daemon);
    sqlite3_finalize(hook->insert);
    sqlite3_close(hook->db);
    g_free(hook);
}
