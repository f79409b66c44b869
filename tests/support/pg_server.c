/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/support/pg_server.h"

#include <glib.h>
#include <glib/gstdio.h>
#include <grp.h>
#include <libpq-fe.h>
#include <pwd.h>
#include <signal.h>
#include <stdlib.h>
#include <sys/prctl.h>
#include <sys/wait.h>
#include <unistd.h>

#define WAIT_TURNS 3000
#define WAIT_TURN_US 10000

typedef struct {
    char *bin;
    char *folder;
    char *data;
    char *copy; /* the data of the second server, or NULL */
    char *connect;
    GPid pid;
    int schemas, copies;
} Server;

static Server server;

/* The newest one that Debian has installed. */
static char *find_bin(void)
{
    g_autoptr(GDir) dir = g_dir_open("/usr/lib/postgresql", 0, NULL);
    const char *name;
    int newest = 0;

    while (dir != NULL && (name = g_dir_read_name(dir)) != NULL)
        newest = MAX(newest, atoi(name));
    if (newest == 0) g_error("no PostgreSQL server is installed: make packages");
    return g_strdup_printf("/usr/lib/postgresql/%d/bin", newest);
}

/* The server refuses to run as root; and it must not outlive the test. */
static void become_postgres(gpointer context)
{
    const struct passwd *owner = context;

    if (owner != NULL && (initgroups(owner->pw_name, owner->pw_gid) != 0 ||
                          setgid(owner->pw_gid) != 0 || setuid(owner->pw_uid) != 0))
        _exit(126);
    prctl(PR_SET_PDEATHSIG, SIGQUIT);
}

static struct passwd *owner_of(void)
{
    struct passwd *owner = geteuid() == 0 ? getpwnam("postgres") : NULL;

    if (geteuid() == 0 && owner == NULL) g_error("there is no user postgres");
    return owner;
}

static GPid spawn(const char *const *arguments)
{
    g_autoptr(GError) error = NULL;
    GPid pid;

    if (!g_spawn_async("/", (char **)arguments, NULL,
                       G_SPAWN_DO_NOT_REAP_CHILD | G_SPAWN_STDOUT_TO_DEV_NULL |
                           G_SPAWN_STDERR_TO_DEV_NULL,
                       become_postgres, owner_of(), &pid, &error))
        g_error("%s", error->message);
    return pid;
}

static void remove_all(void)
{
    const char *remove[] = {"rm", "-rf", server.folder, NULL};

    g_spawn_sync(NULL, (char **)remove, NULL, G_SPAWN_SEARCH_PATH, NULL, NULL, NULL, NULL, NULL,
                 NULL);
}

static void end_server(void)
{
    pg_server_stop();
    remove_all();
    g_free(server.bin);
    g_free(server.folder);
    g_free(server.data);
    g_free(server.copy);
    g_free(server.connect);
}

void pg_server_own(const char *folder)
{
    const struct passwd *owner = owner_of();

    if (owner != NULL && chown(folder, owner->pw_uid, owner->pw_gid) != 0)
        g_error("cannot give away %s", folder);
}

static void make_server(void)
{
    g_autofree char *program = NULL;
    int status;

    server.bin = find_bin();
    server.folder = g_dir_make_tmp("osier-pg-XXXXXX", NULL);
    if (server.folder == NULL) g_error("no folder for a server");
    server.data = g_build_filename(server.folder, "data", NULL);
    server.connect = g_strdup_printf("host=%s user=osier dbname=postgres", server.folder);
    pg_server_own(server.folder);
    program = g_build_filename(server.bin, "initdb", NULL);
    const char *arguments[] = {program,    "-D",      server.data, "-U",         "osier",
                               "--auth",   "trust",   "-N",        "--encoding", "UTF8",
                               "--locale", "C.UTF-8", NULL};
    waitpid(spawn(arguments), &status, 0);
    if (status != 0) g_error("initdb failed");
    atexit(end_server);
}

void pg_server_start(const char *setting)
{
    g_autofree char *program = g_build_filename(server.bin, "postgres", NULL);
    const char *arguments[] = {program,
                               "-D",
                               server.data,
                               "-k",
                               server.folder,
                               "-c",
                               "listen_addresses=",
                               "-c",
                               "shared_buffers=32MB",
                               setting != NULL ? "-c" : NULL,
                               setting,
                               NULL};

    server.pid = spawn(arguments);
    for (int i = 0; i < WAIT_TURNS; i++) {
        if (PQping(server.connect) == PQPING_OK) return;
        if (waitpid(server.pid, NULL, WNOHANG) != 0) break;
        g_usleep(WAIT_TURN_US);
    }
    g_error("the server in %s does not start", server.folder);
}

void pg_server_stop(void)
{
    if (server.pid == 0) return;
    kill(server.pid, SIGQUIT);
    waitpid(server.pid, NULL, 0);
    server.pid = 0;
}

void pg_server_copy(void)
{
    g_autofree char *program = g_build_filename(server.bin, "pg_basebackup", NULL);
    int status;

    pg_server_connect();
    server.copy = g_strdup_printf("%s/copy_%d", server.folder, ++server.copies);
    const char *arguments[] = {program,  "-D", server.copy,   "-R", "-c",    "fast", "-X",
                               "stream", "-h", server.folder, "-U", "osier", NULL};
    waitpid(spawn(arguments), &status, 0);
    if (status != 0) g_error("pg_basebackup failed");
}

void pg_server_fail_over(void)
{
    pg_server_stop();
    g_free(server.data);
    server.data = g_steal_pointer(&server.copy);
    pg_server_start(NULL);
}

void pg_server_promote(void)
{
    g_free(pg_server_run("SELECT pg_promote()"));
}

const char *pg_server_connect(void)
{
    if (server.folder == NULL) {
        make_server();
        pg_server_start(NULL);
    }
    return server.connect;
}

char *pg_server_run(const char *sql)
{
    PGconn *connection = PQconnectdb(pg_server_connect());
    PGresult *result = PQexec(connection, sql);
    ExecStatusType status = PQresultStatus(result);
    char *value = NULL;

    if (status != PGRES_COMMAND_OK && status != PGRES_TUPLES_OK)
        g_error("%s: %s", sql, PQerrorMessage(connection));
    if (PQntuples(result) > 0 && !PQgetisnull(result, 0, 0))
        value = g_strdup(PQgetvalue(result, 0, 0));
    PQclear(result);
    PQfinish(connection);
    return value;
}

char *pg_server_schema(void)
{
    return g_strdup_printf("clinic_%d", ++server.schemas);
}

/* A sequence counts on when a transaction is undone. */
void pg_server_break(const char *schema, const char *state, int times)
{
    g_autofree char *sql = g_strdup_printf(
        "SET search_path = %s; DROP SEQUENCE IF EXISTS fault; CREATE SEQUENCE fault; "
        "CREATE OR REPLACE FUNCTION break() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
        "IF nextval('%s.fault') <= %d THEN RAISE EXCEPTION 'broken to order' USING ERRCODE = '%s'; "
        "END IF; RETURN NEW; END $$; "
        "CREATE OR REPLACE TRIGGER break BEFORE INSERT ON event FOR EACH ROW EXECUTE FUNCTION "
        "break(); "
        "CREATE OR REPLACE TRIGGER break BEFORE INSERT ON meta FOR EACH ROW EXECUTE FUNCTION "
        "break()",
        schema, schema, times, state);

    g_free(pg_server_run(sql));
}
