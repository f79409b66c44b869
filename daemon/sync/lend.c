/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/sync/lend.h"

#include <errno.h>
#include <fcntl.h>
#include <glib/gstdio.h>
#include <string.h>
#include <unistd.h>

#include "adapters/store/snapshot.h"
#include "daemon/control/answer.h"
#include "daemon/sync/caller.h"
#include "daemon/sync/peers.h"
#include "daemon/sync/proof.h"

/* Nobody has asked for it so long. */
#define KEPT_MS HOUR_MS
/* Between the makings of two that nobody wanted any more. */
#define REST_MS MINUTE_MS

typedef enum { LEND_NONE, LEND_COPYING, LEND_MAKING, LEND_READY } LendState;

struct Lend {
    Sync *sync;
    LendState state;
    char *copy, *file;
    char id[17];
    SnapshotMade made;
    char *problem;
    bool dropped; /* while it was made */
    int64_t rest_until_ms;
    GQueue waiting; /* of ServeRequest: for the one that is being made */
    Timer *age;
    uv_work_t work;
    bool working;
};

/* A call on its way. */
typedef struct {
    Lend *lend;
    ServeRequest *request;
    char *pin;
    json_t *question;
    int status; /* 0: go on */
} Asking;

void lend_hex(const uint8_t digest[HASH_BYTES], char hex[SHAPE_HEX])
{
    for (int i = 0; i < HASH_BYTES; i++)
        g_snprintf(hex + 2 * i, 3, "%02x", digest[i]);
}

static void unlink_all(const Lend *lend)
{
    static const char *const ENDS[] = {"", "-wal", "-shm", "-journal"};

    for (size_t i = 0; i < G_N_ELEMENTS(ENDS); i++) {
        g_autofree char *path = g_strconcat(lend->copy, ENDS[i], NULL);
        g_unlink(path);
    }
    g_unlink(lend->file);
}

static int64_t now_ms(const Lend *lend)
{
    return clock_now(desk_clock(lend->sync->desk));
}

/* --- making one --- */

static void answer_ready(const Lend *lend, ServeRequest *request)
{
    char digest[SHAPE_HEX];

    lend_hex(lend->made.digest, digest);
    json_t *document =
        json_pack("{s:s, s:I, s:s, s:I}", "id", lend->id, "bytes", (json_int_t)lend->made.bytes,
                  "digest", digest, "events", (json_int_t)lend->made.events);
    answer_document(request, 200, document);
    json_decref(document);
}

static void turn_away_all(Lend *lend, int status)
{
    ServeRequest *request;

    while ((request = g_queue_pop_head(&lend->waiting)) != NULL)
        caller_turn_away(request, status);
}

static void make(Lend *lend);

/* It is whole, or there is none; and one whose words were erased meanwhile is none. */
static void made(Lend *lend, const char *problem)
{
    Sync *sync = lend->sync;
    bool again = lend->dropped && problem == NULL && !sync->stopping && lend->waiting.length > 0;

    lend->state = problem == NULL && !lend->dropped ? LEND_READY : LEND_NONE;
    if (lend->state == LEND_NONE) unlink_all(lend);
    if (problem != NULL && !sync->stopping)
        log_line(desk_log(sync->desk), LOG_WARNINGS, "snapshot.not_made", "why", problem, NULL);
    lend->dropped = false;
    sync->busy--;
    if (again) {
        make(lend);
        return;
    }
    ServeRequest *request;
    while (lend->state == LEND_READY && (request = g_queue_pop_head(&lend->waiting)) != NULL)
        answer_ready(lend, request);
    turn_away_all(lend, 409);
    if (lend->state == LEND_READY && !sync->stopping) timer_set(lend->age, now_ms(lend) + KEPT_MS);
}

static void do_make(uv_work_t *work)
{
    Lend *lend = work->data;

    lend->problem = snapshot_make(lend->copy, lend->file, &lend->made);
}

static void make_done(uv_work_t *work, int status)
{
    Lend *lend = work->data;
    g_autofree char *problem = g_steal_pointer(&lend->problem);

    lend->working = false;
    g_unlink(lend->copy);
    made(lend, status != 0 ? "given up" : problem);
}

static void copied(const char *problem, void *context)
{
    Lend *lend = context;

    if (problem != NULL || lend->sync->stopping) {
        made(lend, problem != NULL ? problem : "osierd stops");
        return;
    }
    lend->state = LEND_MAKING;
    lend->work.data = lend;
    lend->working = uv_queue_work(lend->sync->loop, &lend->work, do_make, make_done) == 0;
    if (!lend->working) made(lend, "no worker");
}

static void make(Lend *lend)
{
    Store *store = desk_store(lend->sync->desk);

    unlink_all(lend);
    lend->state = LEND_COPYING;
    lend->rest_until_ms = now_ms(lend) + REST_MS;
    g_snprintf(lend->id, sizeof lend->id, "%016" G_GINT64_MODIFIER "x",
               random_number(desk_random(lend->sync->desk), "snapshot"));
    lend->sync->busy++;
    store->copy(store, lend->copy, copied, lend);
}

/* --- who asks --- */

bool lend_can(Job *job)
{
    return job->clinic->store_schema == NULL && !proof_is_open(job);
}

static bool has_much(Job *job)
{
    g_autoptr(GArray) own = tx_vector(job->tx), none = vector_new();

    return vector_ahead(own, none) >= SNAPSHOT_LEAST;
}

static bool look_at(Job *job, void *context)
{
    Asking *asking = context;
    g_autoptr(Row) peer = peer_by_pin(job, asking->pin);

    asking->status = 0;
    if (peer == NULL)
        asking->status = 404;
    else if (json_object_get(asking->question, "shape") != NULL &&
             (!lend_can(job) || !has_much(job)))
        asking->status = 409;
    return true;
}

static void give_piece(Lend *lend, ServeRequest *request, int64_t from)
{
    bool within = from >= 0 && from < lend->made.bytes;
    int64_t length = within ? MIN(SNAPSHOT_PIECE, lend->made.bytes - from) : 0;
    int file = within ? open(lend->file, O_RDONLY | O_CLOEXEC | O_NOFOLLOW) : -1;
    g_autofree char *piece = file >= 0 ? g_malloc((gsize)length) : NULL;
    bool whole = file >= 0 && pread(file, piece, (size_t)length, from) == length;

    if (file >= 0) close(file);
    if (whole)
        serve_answer(request, 200, "application/octet-stream", NULL,
                     g_bytes_new_take(g_steal_pointer(&piece), (gsize)length));
    else
        caller_turn_away(request, 410);
}

static void begin(Lend *lend, ServeRequest *request, const char *shape)
{
    uint8_t own[HASH_BYTES];
    char hex[SHAPE_HEX];

    snapshot_shape(own);
    lend_hex(own, hex);
    if (g_strcmp0(shape, hex) != 0) {
        caller_turn_away(request, 409);
    } else if (lend->state == LEND_READY) {
        answer_ready(lend, request);
    } else if (lend->state == LEND_NONE && now_ms(lend) < lend->rest_until_ms) {
        caller_turn_away(request, 409);
    } else {
        g_queue_push_tail(&lend->waiting, request);
        if (lend->state == LEND_NONE) make(lend);
    }
}

static void go_on(Lend *lend, ServeRequest *request, const json_t *question)
{
    const char *id = json_string_value(json_object_get(question, "id"));
    const json_t *from = json_object_get(question, "from");
    const char *shape = json_string_value(json_object_get(question, "shape"));
    bool here = lend->state == LEND_READY && g_strcmp0(id, lend->id) == 0;

    if (here) timer_set(lend->age, now_ms(lend) + KEPT_MS);
    if (id == NULL && shape != NULL) {
        begin(lend, request, shape);
    } else if (here && json_is_integer(from)) {
        give_piece(lend, request, json_integer_value(from));
    } else if (here && json_is_true(json_object_get(question, "end"))) {
        lend_drop(lend);
        caller_turn_away(request, 200);
    } else {
        caller_turn_away(request, 410);
    }
}

static void looked_at(StoreStatus status, void *context)
{
    Asking *asking = context;
    Lend *lend = asking->lend;

    lend->sync->busy--;
    if (asking->status == 404 && lend->sync->known != NULL)
        g_hash_table_remove(lend->sync->known, asking->pin);
    if (!desk_has_read(status) || lend->sync->stopping)
        caller_turn_away(asking->request, 503);
    else if (asking->status != 0)
        caller_turn_away(asking->request, asking->status);
    else
        go_on(lend, asking->request, asking->question);
    json_decref(asking->question);
    g_free(asking->pin);
    g_free(asking);
}

void lend_answer(Lend *lend, ServeRequest *request)
{
    json_t *question = caller_object(request, SNAPSHOT_QUESTION_MAX);

    if (question == NULL) {
        caller_turn_away(request, 400);
        return;
    }
    Asking *asking = g_new0(Asking, 1);
    *asking = (Asking){.lend = lend,
                       .request = request,
                       .pin = g_strdup(serve_pin(request)),
                       .question = question};
    lend->sync->busy++;
    desk_read(lend->sync->desk, look_at, looked_at, asking);
}

/* --- life --- */

/* A copy of the store that is under way carries over what is erased meanwhile. */
void lend_drop(Lend *lend)
{
    if (lend->state == LEND_COPYING) return;
    unlink_all(lend);
    lend->dropped = lend->state == LEND_MAKING;
    if (!lend->dropped) lend->state = LEND_NONE;
}

static void on_age(void *context)
{
    Lend *lend = context;

    if (lend->state == LEND_READY) lend_drop(lend);
}

Lend *lend_new(Sync *sync)
{
    Lend *lend = g_new0(Lend, 1);

    *lend = (Lend){.sync = sync,
                   .copy = g_build_filename(sync->dir, SNAPSHOT_PART "copy", NULL),
                   .file = g_build_filename(sync->dir, SNAPSHOT_PART "lent", NULL),
                   .age = timer_new(desk_clock(sync->desk), on_age, lend)};
    g_queue_init(&lend->waiting);
    return lend;
}

void lend_stop(Lend *lend)
{
    timer_set(lend->age, CLOCK_NEVER);
    turn_away_all(lend, 503);
}

bool lend_is_over(const Lend *lend)
{
    return !lend->working;
}

void lend_free(Lend *lend)
{
    unlink_all(lend);
    timer_free(lend->age);
    g_free(lend->copy);
    g_free(lend->file);
    g_free(lend);
}
