/* SPDX-License-Identifier: Apache-2.0 */
/* A store changes its place: all of it is copied, both are read again and give the same digest, and only then is the old one
 * put aside under a name that nothing opens. Both are held for as long as it takes. A file is made under another name and
 * renamed when it is whole; a schema is filled in one transaction. So whatever cuts a move short, the old store is the one
 * until it is put aside, and the move is made or ended by doing it again. */
#include <errno.h>
#include <glib/gstdio.h>
#include <string.h>

#include "adapters/store/check.h"
#include "adapters/store/copy_out.h"
#include "adapters/store/open.h"
#include "adapters/store/postgres.h"
#include "adapters/store/transfer.h"

/* Of a name at the server. */
#define NAME_BYTES_MAX 63

typedef struct {
    OpenRequest from_request, to_request;
    Tx *from, *to;
    char *digest;
    char **why;
} Move;

static MoveResult refuse(const Move *move, MoveResult result, const char *where, const char *what)
{
    if (*move->why == NULL) *move->why = g_strdup_printf("%s: %s", where, what);
    return result;
}

static const char *name_of(const OpenRequest *request)
{
    return request->place != NULL ? request->place->schema : request->path;
}

const char *store_place_name(const StorePlace *place)
{
    return place->schema != NULL ? place->schema->schema : place->file;
}

static MoveResult of_open(OpenResult result, MoveResult missing)
{
    switch (result) {
    case OPEN_OK: return MOVE_DONE;
    case OPEN_IN_USE: return MOVE_IN_USE;
    case OPEN_NO_STORE: return missing;
    case OPEN_OTHER_MODE:
    case OPEN_NEWER: return MOVE_UNSOUND;
    case OPEN_CANNOT: return MOVE_CANNOT;
    }
    g_assert_not_reached();
}

/* The old store, checked. */
static MoveResult open_source(Move *move, int64_t *events)
{
    g_autoptr(GPtrArray) findings = g_ptr_array_new_with_free_func(g_free);
    OpenResult opened = open_store(&move->from_request, &move->from, move->why);

    if (opened != OPEN_OK)
        return of_open(opened, move->from_request.damaged ? MOVE_UNSOUND : MOVE_NO_SOURCE);
    *events = check_store(move->from, findings);
    if (findings->len > 0)
        return refuse(move, MOVE_UNSOUND, name_of(&move->from_request), findings->pdata[0]);
    move->digest = transfer_digest(move->from);
    if (move->digest == NULL)
        return refuse(move, MOVE_CANNOT, name_of(&move->from_request), move->from->problem);
    return MOVE_DONE;
}

/* Is what lies at the new place the whole of the old? */
static bool is_same(Move *move)
{
    g_autofree char *digest = transfer_digest(move->to);

    return g_strcmp0(digest, move->digest) == 0;
}

static MoveResult judge_target(Move *move)
{
    if (is_same(move)) return MOVE_DONE;
    return refuse(move, MOVE_TAKEN, name_of(&move->to_request),
                  "another store is there already; nothing is written over it");
}

/* --- into a schema --- */

static MoveResult fill_schema(Move *move)
{
    if (transfer_all(move->from, move->to))
        return is_same(move) ? MOVE_DONE
                             : refuse(move, MOVE_CANNOT, name_of(&move->to_request),
                                      "does not hold what was written into it; drop the schema");
    Tx *bad = move->from->bad != STORE_OK ? move->from : move->to;
    return refuse(move, MOVE_CANNOT,
                  name_of(bad == move->from ? &move->from_request : &move->to_request),
                  bad->problem);
}

static MoveResult copy_to_schema(Move *move)
{
    OpenResult opened = open_store(&move->to_request, &move->to, move->why);

    if (opened != OPEN_OK) return of_open(opened, MOVE_TAKEN);
    return move->to_request.empty ? fill_schema(move) : judge_target(move);
}

/* --- into a file --- */

static MoveResult copy_whole(Move *move, const char *part)
{
    Copy *copy = copy_out_begin(move->from, part);
    OpenRequest request = {.path = part, .checking = true};

    while (copy_step(copy, G_MAXINT))
        continue;
    *move->why = copy_end(copy);
    if (*move->why != NULL) return MOVE_CANNOT;
    OpenResult opened = open_store_file(&request, &move->to, move->why);
    return opened == OPEN_OK ? judge_target(move) : of_open(opened, MOVE_CANNOT);
}

static MoveResult make_file(Move *move)
{
    const char *path = move->to_request.path;
    g_autofree char *part = g_strconcat(path, ".part", NULL);

    g_unlink(part); /* of a move that was cut short */
    MoveResult result = copy_whole(move, part);
    if (move->to != NULL) open_close(g_steal_pointer(&move->to));
    if (result == MOVE_DONE && (g_rename(part, path) != 0 || !copy_sync(path)))
        result = refuse(move, MOVE_CANNOT, path, g_strerror(errno));
    if (result != MOVE_DONE) g_unlink(part);
    return result;
}

static MoveResult copy_to_file(Move *move)
{
    if (!g_file_test(move->to_request.path, G_FILE_TEST_EXISTS)) return make_file(move);
    OpenResult opened = open_store(&move->to_request, &move->to, move->why);
    return opened == OPEN_OK ? judge_target(move) : of_open(opened, MOVE_TAKEN);
}

/* --- the old one --- */

static char *stamp_of(int64_t now_ms)
{
    g_autoptr(GDateTime) at = g_date_time_new_from_unix_utc(now_ms / 1000);

    return g_date_time_format(at, "%Y%m%d%H%M%S");
}

static MoveResult put_file_aside(Move *move, const char *stamp, char **aside)
{
    const char *path = move->from_request.path;
    g_autofree char *name = g_strdup_printf("%s.moved-%s", path, stamp);

    /* While it is held; what its log had is in it. */
    if (!open_checkpoint(move->from, SQLITE_CHECKPOINT_TRUNCATE) || g_rename(path, name) != 0 ||
        !copy_sync(name))
        return refuse(move, MOVE_CANNOT, path,
                      "all of it is copied, but it cannot be put aside; move it away by hand");
    *aside = g_steal_pointer(&name);
    return MOVE_DONE;
}

static MoveResult put_schema_aside(Move *move, const char *stamp, char **aside)
{
    const char *schema = move->from_request.place->schema;
    g_autofree char *long_name = g_strdup_printf("moved_%s_%s", stamp, schema);
    g_autofree char *name = g_strndup(long_name, NAME_BYTES_MAX);
    g_autofree char *rename = g_strdup_printf("ALTER SCHEMA \"%s\" RENAME TO \"%s\"", schema, name);
    g_autofree char *problem = NULL;

    if (!postgres_command(move->from->driver, rename, &problem)) {
        g_autofree char *what = g_strdup_printf(
            "all of it is copied, but it cannot be put aside (%s); rename the schema by hand",
            problem);
        return refuse(move, MOVE_CANNOT, schema, what);
    }
    *aside = g_steal_pointer(&name);
    return MOVE_DONE;
}

static MoveResult put_aside(Move *move, int64_t now_ms, char **aside)
{
    g_autofree char *stamp = stamp_of(now_ms);

    return move->from_request.place != NULL ? put_schema_aside(move, stamp, aside)
                                            : put_file_aside(move, stamp, aside);
}

static void end_move(Move *move)
{
    if (move->to != NULL) open_end(&move->to_request, move->to);
    if (move->from != NULL) open_end(&move->from_request, move->from);
}

static MoveResult copy_all(Move *move, int64_t *events)
{
    MoveResult result = open_source(move, events);

    if (result != MOVE_DONE) return result;
    return move->to_request.place != NULL ? copy_to_schema(move) : copy_to_file(move);
}

static Move begin_move(const StorePlace *from, const StorePlace *to, char **why)
{
    Move move = {.from_request = open_request(from), .to_request = open_request(to), .why = why};

    *why = NULL;
    move.to_request.make = move.to_request.bare = to->schema != NULL;
    return move;
}

MoveResult store_place_move(const StorePlace *from, const StorePlace *to, int64_t now_ms,
                            int64_t *events, char **digest, char **aside, char **why)
{
    Move move = begin_move(from, to, why);
    MoveResult result = copy_all(&move, events);

    if (result == MOVE_DONE) result = put_aside(&move, now_ms, aside);
    end_move(&move);
    *digest = move.digest;
    return result;
}

MoveResult store_place_fill(const char *file, const PostgresPlace *schema, char **why)
{
    Move move = begin_move(&(StorePlace){.file = file}, &(StorePlace){.schema = schema}, why);
    int64_t events;
    MoveResult result = copy_all(&move, &events);

    end_move(&move);
    g_free(move.digest);
    return result;
}
