/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/sync/sync.h"

#include <glib/gstdio.h>
#include <string.h>

#include "adapters/net/net_curl.h"
#include "adapters/serve/serve_mhd.h"
#include "daemon/cli/cli.h"
#include "daemon/control/answer.h"
#include "daemon/desk/sender.h"
#include "daemon/sync/borrow.h"
#include "daemon/sync/lend.h"
#include "daemon/sync/peers.h"
#include "daemon/sync/proof.h"
#include "daemon/sync/sync_inside.h"

/* A change is followed by others as a rule: they go together. */
#define SOON_MS 500
#define CONNECTIONS_MOST 8

static const ServeLimits LIMITS = {.body_max = PARCEL_MAX,
                                   .connections_max = 64,
                                   .connections_per_address_max = 16,
                                   .idle_timeout_s = 30,
                                   .keeps = guests_keep};

static int64_t wall(void *context)
{
    const Sync *sync = context;

    return clock_now(desk_clock(sync->desk));
}

const Own *sync_own(Sync *sync, char **why)
{
    *why = NULL;
    if (sync->own == NULL) sync->own = own_load(sync->dir, why);
    return sync->own;
}

void sync_say_name(Job *job)
{
    const char *own = tx_replica(job->tx);
    const char *named = job->clinic->sync_name;
    const char *name = named != NULL ? named : g_get_host_name();
    g_autofree char *before = replica_name(job->tx, own);

    if (strcmp(before, name) == 0 || !g_utf8_validate(name, -1, NULL)) return;
    tx_append(job->tx, "replica.set", own, "osier", NULL,
              json_pack("{s:{s:s}}", "fields", "name", name));
}

/* --- peers that are called --------------------------------------------------------------------- */

static Lane *lane_to(Sync *sync, const char *peer)
{
    for (guint i = 0; i < sync->lanes->len; i++) {
        Lane *lane = sync->lanes->pdata[i];
        if (strcmp(lane->peer, peer) == 0) return lane;
    }
    Lane *lane = g_new0(Lane, 1);
    lane->sync = sync;
    lane->peer = g_strdup(peer);
    lane->callers = g_ptr_array_new();
    g_ptr_array_add(sync->lanes, lane);
    return lane;
}

/* Which peers have an address is in the store. */
typedef struct {
    Sync *sync;
    ServeRequest *caller; /* or NULL */
    GPtrArray *ids;
    GPtrArray *pins; /* of all that may call */
} Round;

static bool find_peers(Job *job, void *context)
{
    Round *round = context;
    g_autoptr(GPtrArray) rows = tx_rows(job->tx, TABLE_PEER, "cut_at IS NULL ORDER BY id", "");

    for (guint i = 0; i < rows->len; i++) {
        const Row *peer = rows->pdata[i];

        g_ptr_array_add(round->pins, g_strdup(row_text(peer, PEER_PIN)));
        if (row_is_null(peer, PEER_ADDRESS)) continue;
        g_ptr_array_add(round->ids, g_strdup(row_text(peer, PEER_ID)));
    }
    return true;
}

void sync_know(Sync *sync, const char *pin)
{
    if (sync->known != NULL) g_hash_table_add(sync->known, g_strdup(pin));
}

static void set_every(Sync *sync)
{
    const Clinic *clinic = settings_clinic(desk_settings(sync->desk));

    timer_set(sync->every, sync->lanes->len > 0 && !sync->stopping
                               ? clock_now(desk_clock(sync->desk)) + clinic->sync_every_ms
                               : CLOCK_NEVER);
}

static void answer_empty(ServeRequest *caller)
{
    answer_fault(caller, 404, 66, "peer", "",
                 "there is none to visit: this replica is paired with none whose address it knows");
}

void caller_hears(Caller *caller, const char *peer, const char *problem)
{
    if (problem == NULL) {
        json_array_append_new(caller->visited, json_string(peer));
    } else if (caller->problem == NULL) {
        caller->peer = g_strdup(peer);
        caller->problem = g_strdup(problem);
    }
    if (--caller->visits > 0) return;
    json_t *document = json_pack("{s:O}", "visited", caller->visited);
    if (caller->problem != NULL)
        answer_fault(caller->request, 503, EXIT_LATER, "peer", caller->peer, caller->problem);
    else
        answer_document(caller->request, 200, document);
    json_decref(document);
    json_decref(caller->visited);
    g_free(caller->peer);
    g_free(caller->problem);
    g_free(caller);
}

/* What was found is visited, for the caller too, where one waits. */
static void begin_round(Sync *sync, const Round *round)
{
    Caller *caller = round->caller != NULL ? g_new0(Caller, 1) : NULL;

    if (caller != NULL)
        *caller = (Caller){
            .request = round->caller, .visits = (int)round->ids->len, .visited = json_array()};
    for (guint i = 0; i < round->ids->len; i++) {
        Lane *lane = lane_to(sync, round->ids->pdata[i]);
        if (caller != NULL) g_ptr_array_add(lane->callers, caller);
        lane_talk(lane);
    }
}

static void round_found(StoreStatus status, void *context)
{
    Round *round = context;
    Sync *sync = round->sync;
    bool read = status == STORE_OK && !sync->stopping;

    sync->busy--;
    if (read && sync->known == NULL)
        sync->known = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
    for (guint i = 0; read && i < round->pins->len; i++)
        sync_know(sync, round->pins->pdata[i]);
    if (read && round->ids->len > 0)
        begin_round(sync, round);
    else if (round->caller != NULL && read)
        answer_empty(round->caller);
    else if (round->caller != NULL)
        answer_fault(round->caller, 503, EXIT_LATER, "sync", "",
                     "osierd stops, or the store has no room");
    if (read)
        set_every(sync);
    else if (!sync->stopping)
        timer_set(sync->every, clock_now(desk_clock(sync->desk)) + MINUTE_MS);
    g_ptr_array_unref(round->ids);
    g_ptr_array_unref(round->pins);
    g_free(round);
}

static void visit_all(Sync *sync, ServeRequest *caller)
{
    Round *round = g_new0(Round, 1);

    *round = (Round){.sync = sync,
                     .caller = caller,
                     .ids = g_ptr_array_new_with_free_func(g_free),
                     .pins = g_ptr_array_new_with_free_func(g_free)};
    sync->busy++;
    desk_submit(sync->desk, find_peers, round_found, round);
}

static void on_every(void *context)
{
    Sync *sync = context;

    for (guint i = 0; i < sync->lanes->len; i++)
        borrow_age(sync->lanes->pdata[i]);
    visit_all(sync, NULL);
    proof_look(sync->proof);
}

static void on_soon(void *context)
{
    Sync *sync = context;

    for (guint i = 0; i < sync->lanes->len; i++)
        lane_talk(sync->lanes->pdata[i]);
}

void sync_moved(Sync *sync)
{
    if (sync->stopping) return;
    guests_moved(sync);
    if (sync->lanes->len > 0 && timer_at(sync->soon) == CLOCK_NEVER)
        timer_set(sync->soon, clock_now(desk_clock(sync->desk)) + SOON_MS);
}

void sync_erased(Sync *sync)
{
    if (sync->stopping) return;
    lend_drop(sync->lend);
    for (guint i = 0; i < sync->lanes->len; i++) {
        const Lane *lane = sync->lanes->pdata[i];
        if (lane->borrow != NULL) borrow_drop(lane->borrow);
    }
    proof_drop(sync->proof);
}

void sync_now(Sync *sync, ServeRequest *request)
{
    visit_all(sync, request);
}

/* --- listening ---------------------------------------------------------------------------------- */

static bool listen_where(Sync *sync, char **why)
{
    const char *wanted = settings_clinic(desk_settings(sync->desk))->sync_listen;
    Serve *fresh = NULL;

    if (g_strcmp0(wanted, sync->listens) == 0) return true;
    if (wanted != NULL) {
        const Own *own = sync_own(sync, why);
        if (own == NULL) return false;
        fresh = serve_tls_new(sync->loop, wanted, own->certificate, own->key, &LIMITS,
                              guests_handle, sync, why);
        if (fresh == NULL) return false;
    }
    guests_close(sync);
    if (sync->serve != NULL) sync->serve->close(sync->serve);
    sync->serve = fresh;
    g_free(sync->listens);
    sync->listens = g_strdup(wanted);
    return true;
}

/* --- life --------------------------------------------------------------------------------------- */

Sync *sync_new(uv_loop_t *loop, Daemon *daemon, const char *dir, bool loopback_only)
{
    Sync *sync = g_new0(Sync, 1);
    Clock *clock = desk_clock(daemon_desk(daemon));

    sync->loop = loop;
    sync->daemon = daemon;
    sync->desk = daemon_desk(daemon);
    sync->dir = g_strdup(dir);
    sync->loopback_only = loopback_only;
    sync->every = timer_new(clock, on_every, sync);
    sync->soon = timer_new(clock, on_soon, sync);
    sync->wait = timer_new(clock, guests_timer, sync);
    sync->lanes = g_ptr_array_new_with_free_func((GDestroyNotify)lane_free);
    sync->waiting = g_queue_new();
    sync->lend = lend_new(sync);
    sync->proof = proof_new(loop, sync->desk, dir, &sync->busy);
    return sync;
}

/* What one that was killed has left behind. */
static void sweep(const char *dir)
{
    g_autoptr(GDir) names = g_dir_open(dir, 0, NULL);
    const char *name;

    while (names != NULL && (name = g_dir_read_name(names)) != NULL) {
        g_autofree char *path = g_build_filename(dir, name, NULL);
        if (g_str_has_prefix(name, SNAPSHOT_PART)) g_unlink(path);
    }
}

bool sync_start(Sync *sync, char **why)
{
    const NetCurlOptions options = {.loopback_only = sync->loopback_only,
                                    .wall_ms = wall,
                                    .wall_context = sync,
                                    .connections_max = CONNECTIONS_MOST};

    sync->net = net_curl_new(sync->loop, &options, why);
    if (sync->net == NULL) return false;
    own_sweep(sync->dir);
    sweep(sync->dir);
    visit_all(sync, NULL);
    proof_look(sync->proof);
    return listen_where(sync, why);
}

bool sync_reload(Sync *sync, char **why)
{
    set_every(sync);
    return listen_where(sync, why);
}

void sync_stop(Sync *sync)
{
    if (sync->stopping) return;
    sync->stopping = true;
    timer_set(sync->every, CLOCK_NEVER);
    timer_set(sync->soon, CLOCK_NEVER);
    timer_set(sync->wait, CLOCK_NEVER);
    guests_close(sync);
    lend_stop(sync->lend);
    proof_stop(sync->proof);
    if (sync->serve != NULL) sync->serve->close(sync->serve);
    sync->serve = NULL;
    if (sync->net != NULL) sync->net->close(sync->net);
    sync->net = NULL;
}

/* Workers and programs of ours. */
static bool works(const Sync *sync)
{
    bool working = !lend_is_over(sync->lend) || !proof_is_over(sync->proof);

    for (guint i = 0; i < sync->lanes->len; i++) {
        const Lane *lane = sync->lanes->pdata[i];
        working = working || (lane->borrow != NULL && borrow_works(lane->borrow));
    }
    return working;
}

void sync_free(Sync *sync)
{
    if (sync == NULL) return;
    if (!sync->stopping) sync_stop(sync);
    while (works(sync))
        uv_run(sync->loop, UV_RUN_ONCE);
    lend_free(sync->lend);
    proof_free(sync->proof);
    timer_free(sync->every);
    timer_free(sync->soon);
    timer_free(sync->wait);
    g_ptr_array_unref(sync->lanes);
    g_queue_free(sync->waiting);
    if (sync->known != NULL) g_hash_table_unref(sync->known);
    own_free(sync->own);
    g_free(sync->listens);
    g_free(sync->dir);
    g_free(sync);
}

int sync_busy(const Sync *sync)
{
    int served = sync->serve != NULL ? sync->serve->open_requests(sync->serve) : 0;

    return sync->busy + MAX(0, served - (int)sync->waiting->length);
}

json_t *sync_json(const Sync *sync)
{
    bool open =
        sync->offer.token[0] != '\0' && sync->offer.until_ms > clock_now(desk_clock(sync->desk));
    g_autofree char *until = open ? instant_format(sync->offer.until_ms) : NULL;

    json_t *snapshot = NULL;

    for (guint i = 0; i < sync->lanes->len && snapshot == NULL; i++) {
        const Lane *lane = sync->lanes->pdata[i];
        if (lane->borrow != NULL) snapshot = borrow_json(lane->borrow);
    }
    return json_pack("{s:s?, s:s?, s:o?}", "listens", sync->listens, "code_until", until,
                     "fetching", snapshot);
}
