/* SPDX-License-Identifier: Apache-2.0 */
/* Every commit that wrote something has a number, which lies in the schema, in this process and in a file beside it. A
 * connection that is made anew must show the number of the last commit that was told to be kept:
 * - one more, where the answer to a commit was lost: it was kept;
 * - less: the server is a copy that lags, or was put back; what was sent meanwhile stands nowhere in it, so it may not be used;
 * - anything else: somebody else wrote.
 * The number is asked and not the transaction's status, because another server may have given the same transaction number to
 * something else. The file is not synced: it outlives this process, and where a power cut takes it, only this net is gone. */
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "adapters/store/postgres_part.h"

/* How long a commit in doubt holds up everything. */
#define DOUBT_US (8 * G_USEC_PER_SEC)
#define DOUBT_TURN_US 100000
#define LINE_BYTES 64

static const char MAKE_FENCE[] =
    "CREATE TABLE IF NOT EXISTS fence (store TEXT NOT NULL, commits BIGINT NOT NULL); "
    "INSERT INTO fence SELECT gen_random_uuid(), 0 WHERE NOT EXISTS (SELECT 1 FROM fence)";
static const char READ_FENCE[] = "SELECT store || ' ' || commits FROM fence";
/* What only read has no transaction number, and is not counted. */
static const char COUNT[] =
    "UPDATE fence SET commits = commits + 1 WHERE pg_current_xact_id_if_assigned() IS NOT NULL";

/* --- the file --- */

static void write_file(Postgres *postgres)
{
    char line[LINE_BYTES];

    if (postgres->file == NULL) return;
    if (postgres->file_open < 0)
        postgres->file_open = open(postgres->file, O_CREAT | O_RDWR | O_CLOEXEC | O_NOFOLLOW, 0600);
    g_snprintf(line, sizeof line, "%s %020" G_GINT64_FORMAT "\n", postgres->fence,
               postgres->commits);
    bool written = postgres->file_open >= 0 &&
                   pwrite(postgres->file_open, line, strlen(line), 0) == (ssize_t)strlen(line);
    if (!written && postgres->refused == NULL)
        postgres->refused =
            g_strdup_printf("%s: cannot be written: %s", postgres->file, g_strerror(errno));
}

/* What the file says of that store; 0 where it says nothing. */
static int64_t read_file(const Postgres *postgres)
{
    g_autofree char *text = NULL;
    size_t length = strlen(postgres->fence);

    if (postgres->file == NULL || !g_file_get_contents(postgres->file, &text, NULL, NULL) ||
        strncmp(text, postgres->fence, length) != 0)
        return 0;
    return g_ascii_strtoll(text + length, NULL, 10);
}

void postgres_forget_fence(Postgres *postgres)
{
    if (postgres->fence != NULL && postgres->file_open >= 0) close(postgres->file_open);
    g_clear_pointer(&postgres->fence, g_free);
    g_clear_pointer(&postgres->file, g_free);
}

/* --- what the server says --- */

/* Its store and number; false where it does not say. */
static bool read_fence(Postgres *postgres, char **store, int64_t *commits)
{
    g_autofree char *said = postgres_value(postgres, READ_FENCE, NULL);
    g_auto(GStrv) words = said != NULL ? g_strsplit(said, " ", 2) : NULL;

    if (words == NULL || words[1] == NULL) return false;
    *store = g_strdup(words[0]);
    *commits = g_ascii_strtoll(words[1], NULL, 10);
    return true;
}

static char *lacking(const Postgres *postgres, int64_t there)
{
    return g_strdup_printf(
        "the server lacks the last %" G_GINT64_FORMAT
        " commits of %s, which were told to be kept: it is a copy that lagged, or was put back. "
        "Bring back the server that has them. If they are lost, messages may have been sent that "
        "it does not know: look at the gateways' own records, then%s%s",
        postgres->commits - there, postgres->schema,
        postgres->file != NULL ? " remove " : " start osierd anew",
        postgres->file != NULL ? postgres->file : "");
}

static char *judge(Postgres *postgres, const char *store, int64_t there)
{
    if (strcmp(store, postgres->fence) != 0)
        return g_strdup_printf("%s is another store by now", postgres->schema);
    if (there < postgres->commits) return lacking(postgres, there);
    if (there == postgres->commits) return NULL;
    postgres->stale = true;
    return g_strdup_printf("%s has commits that this process did not hear of; start osierd anew: "
                           "it goes on from there",
                           postgres->schema);
}

bool postgres_fence_holds(Postgres *postgres)
{
    g_autofree char *store = NULL;
    int64_t there = 0;

    if (postgres->fence == NULL) return true;
    if (!read_fence(postgres, &store, &there)) {
        if (PQstatus(postgres->connection) == CONNECTION_OK)
            postgres->refused = g_strdup_printf("%s has no fence any more", postgres->schema);
        return false;
    }
    if (postgres->doubt && there == postgres->commits + 1 && strcmp(store, postgres->fence) == 0)
        return true; /* whoever doubts asks */
    g_free(postgres->refused);
    postgres->refused = judge(postgres, store, there);
    return postgres->refused == NULL;
}

bool postgres_fence(Driver *driver, const char *file, char **why)
{
    Postgres *postgres = (Postgres *)driver;

    if (!postgres_command(driver, MAKE_FENCE, why)) return false;
    PQexitPipelineMode(postgres->connection);
    bool read = read_fence(postgres, &postgres->fence, &postgres->commits);
    PQenterPipelineMode(postgres->connection);
    if (!read) {
        *why = g_strdup("its fence cannot be read");
        return false;
    }
    int64_t there = postgres->commits;
    postgres->file = g_strdup(file);
    postgres->commits = MAX(there, read_file(postgres));
    *why = there < postgres->commits ? lacking(postgres, there) : NULL;
    if (*why == NULL) write_file(postgres);
    if (*why == NULL && postgres->refused != NULL) *why = g_strdup(postgres->refused);
    return *why == NULL;
}

/* Has the schema a count at all? Before its first start it has none. False: the server does not say. */
static bool has_fence(Driver *driver, bool *has)
{
    g_autofree char *said =
        postgres_ask(driver, "SELECT to_regclass(quote_ident($1) || '.fence') IS NOT NULL",
                     ((Postgres *)driver)->schema);

    *has = g_strcmp0(said, "t") == 0;
    return said != NULL;
}

bool postgres_heed_fence(Driver *driver, const char *file, char **why)
{
    Postgres *postgres = (Postgres *)driver;
    g_autofree char *store = NULL;
    int64_t there = 0;
    bool has = false, read = has_fence(driver, &has);

    if (read && !has) return true;
    PQexitPipelineMode(postgres->connection);
    read = read && read_fence(postgres, &store, &there);
    PQenterPipelineMode(postgres->connection);
    if (!read) *why = g_strdup("no database: it does not say what it has kept");
    if (!read) return false;
    if (postgres->file == NULL) postgres->file = g_strdup(file);
    g_free(postgres->fence);
    postgres->fence = g_steal_pointer(&store);
    int64_t known = read_file(postgres);
    postgres->commits = MAX(there, known);
    *why = there < known ? lacking(postgres, there) : NULL;
    if (there > known) write_file(postgres);
    if (*why == NULL) *why = g_steal_pointer(&postgres->refused);
    return *why == NULL;
}

/* --- committing --- */

static bool send(Postgres *postgres, const char *text)
{
    if (!postgres->lost &&
        PQsendQueryParams(postgres->connection, text, 0, NULL, NULL, NULL, NULL, 0) != 0) {
        postgres->sent++;
        return true;
    }
    postgres_note(postgres, NULL);
    return false;
}

bool postgres_begin(Postgres *postgres)
{
    if (postgres->refused != NULL || (postgres->lost && !postgres_connect(postgres))) return false;
    return send(postgres, "BEGIN");
}

static bool was_kept(Postgres *postgres)
{
    g_autofree char *store = NULL;
    int64_t there = postgres->commits;

    PQexitPipelineMode(postgres->connection);
    bool read = read_fence(postgres, &store, &there);
    PQenterPipelineMode(postgres->connection);
    return read && there > postgres->commits;
}

/* The answer to a commit was lost with the connection: was it kept? Where no server says so in time, the jobs hear that it was
 * not; if it was, the next connection is refused, and a new start goes on from what is there. */
static bool settle(Postgres *postgres)
{
    gint64 until = g_get_monotonic_time() + DOUBT_US;
    g_autofree char *said = g_strdup(postgres->problem);

    postgres->doubt = true;
    while (!postgres_connect(postgres) && postgres->refused == NULL &&
           g_get_monotonic_time() < until)
        g_usleep(DOUBT_TURN_US);
    postgres->doubt = false;
    if (postgres->refused == NULL && !postgres->lost && was_kept(postgres)) return true;
    if (postgres->problem == NULL) postgres->problem = g_steal_pointer(&said);
    postgres->lost = true;
    return false;
}

bool postgres_commit(Postgres *postgres)
{
    bool counted = postgres->fence != NULL;

    if ((counted && !send(postgres, COUNT)) || !send(postgres, "COMMIT")) return false;
    PGresult *result = postgres_answer(postgres);
    bool kept = result != NULL && strcmp(PQcmdStatus(result), "COMMIT") == 0;
    bool wrote = postgres->changed_before > 0;
    PQclear(result);
    if (!kept && postgres->lost && counted) kept = wrote = settle(postgres);
    if (!kept && postgres->problem == NULL) postgres_note(postgres, NULL);
    if (!kept || !counted || !wrote) return kept;
    postgres->commits++;
    write_file(postgres);
    return postgres->refused == NULL;
}
