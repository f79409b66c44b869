/* SPDX-License-Identifier: Apache-2.0 */
/* A visit to a peer: what each side holds is told, then what the other lacks, in parcels, until neither has more. Each parcel is
 * committed before the next is asked for, so a cut costs nothing but the rest. Once a visit went through, a call is left waiting
 * at the peer, so that what happens there is heard at once. */
#include <string.h>

#include "daemon/control/answer.h"
#include "daemon/sync/borrow.h"
#include "daemon/sync/merge.h"
#include "daemon/sync/peers.h"
#include "daemon/sync/sync_inside.h"

#define TALK_MS (60 * SECOND_MS)
/* More than the peer may let us wait. */
#define LISTEN_MS (WAIT_MS + MINUTE_MS)

typedef struct {
    Lane *lane;
    bool listens;   /* to wait for news; else to talk */
    GBytes *answer; /* what the peer said last, or NULL */
    GBytes *question;
    char *url;
    char *pin;
    char *problem;
    char *note; /* what people should know, although the visit goes on; or NULL */
    bool probing;
    int64_t probe_from, probe_to; /* where this chain and the peer's copy of it part */
    bool parted;                  /* and was found: once in a visit */
    GArray *had;                  /* what the peer had when it was last given something, or NULL */
    int stalls;                   /* questions in a row after which it had no more than before */
    bool idle;                    /* the last answer brought nothing */
    bool heard;                   /* at least one answer was taken in */
    char *renamed;                /* the id under which the peer goes on, or NULL */
    bool borrows;                 /* a snapshot is asked for before the next question */
    bool goes_on;                 /* and the next question comes whatever there is to give */
} Visit;

static void visit_free(Visit *visit)
{
    if (visit->answer != NULL) g_bytes_unref(visit->answer);
    if (visit->question != NULL) g_bytes_unref(visit->question);
    g_free(visit->url);
    g_free(visit->pin);
    g_free(visit->problem);
    g_free(visit->note);
    if (visit->had != NULL) g_array_unref(visit->had);
    g_free(visit->renamed);
    g_free(visit);
}

/* --- on the store thread ------------------------------------------------------------------------ */

static void set_problem(Visit *visit, const char *problem)
{
    g_free(visit->problem);
    visit->problem = g_strdup(problem);
}

/* Each answer must bring the two ends closer, or it would never end. */
static bool is_narrower(const Visit *visit, int64_t same, int64_t other)
{
    int64_t from = MAX(same, 1);

    return from >= visit->probe_from && other <= visit->probe_to &&
           other - from < visit->probe_to - visit->probe_from;
}

/* The peer knows other events under this replica's numbers: the store is a copy, or was put back. Once the place is found at
 * which the two part, this replica goes on under a new id. */
static void find_parting(Job *job, Visit *visit, const Parcel *parcel)
{
    int64_t same, other;

    if (!visit->probing) {
        visit->probing = true;
        visit->probe_from = 1;
        visit->probe_to = INT64_MAX / 2;
        return;
    }
    merge_compare(job, parcel->marks, &same, &other);
    if (other > same + 1 && parcel->marks->len > 2 && is_narrower(visit, same, other)) {
        visit->probe_from = MAX(same, 1);
        visit->probe_to = other;
        return;
    }
    if (other == 0 || other != same + 1 || visit->parted) {
        set_problem(visit, "it says that it has other entries of this replica than this replica "
                           "itself, and does not show them; nothing was changed here");
        return;
    }
    merge_rename(job, same);
    sync_say_name(job);
    visit->probing = false;
    visit->parted = true;
}

static void take_answer(Job *job, Visit *visit, Row *peer, bool *more)
{
    const char *why;
    g_autoptr(Parcel) parcel = parcel_unpack(visit->answer, &why);

    *more = false;
    if (parcel == NULL) {
        g_autofree char *problem = g_strdup_printf("what it answered cannot be read: %s", why);
        set_problem(visit, problem);
        return;
    }
    if (strcmp(parcel->replica, tx_replica(job->tx)) != 0 &&
        !peer_may_be(job, peer, parcel->replica)) {
        set_problem(visit, "it says that it is another peer of this replica; pair it anew");
        return;
    }
    int64_t before = tx_moves(job->tx);
    g_autofree char *forked = merge_take(job, parcel);
    const char *parted = forked != NULL ? forked : parcel->forked;
    visit->heard = true;
    bool idle = tx_moves(job->tx) == before;
    *more = !idle || (parcel->more && !visit->idle);
    visit->idle = idle;
    if (g_strcmp0(parted, tx_replica(job->tx)) == 0) {
        find_parting(job, visit, parcel);
        *more = true;
    } else if (parted != NULL) {
        g_free(visit->note);
        visit->note = merge_fork(parted, parcel->replica);
    }
    if (strcmp(row_text(peer, PEER_ID), parcel->replica) != 0 &&
        strcmp(parcel->replica, tx_replica(job->tx)) != 0) {
        /* it found out that it was a copy */
        tx_delete(job->tx, peer);
        row_set_text(peer, PEER_ID, parcel->replica);
        visit->renamed = g_strdup(parcel->replica);
    }
    peer_set_vector(peer, parcel->vector);
    row_set_int(peer, PEER_LAST_AT, job->now_ms);
    row_set_int(peer, PEER_CLOCK_MS, parcel->wall_ms - job->now_ms);
    if (parcel->name != NULL) row_set_text(peer, PEER_NAME, parcel->name);
}

/* Does the peer get no further with what it is given? One question may have told it what it had from elsewhere. */
static bool is_stuck(Visit *visit, const GArray *theirs)
{
    bool moved = visit->had == NULL || vector_ahead(theirs, visit->had) > 0;

    if (visit->had != NULL) g_array_unref(visit->had);
    visit->had = g_array_copy((GArray *)theirs);
    visit->stalls = moved ? 0 : visit->stalls + 1;
    return visit->stalls > 1;
}

static void make_question(Job *job, Visit *visit, const Row *peer, bool more)
{
    g_autoptr(Parcel) parcel = merge_parcel(job);
    g_autoptr(GArray) theirs = peer_vector(peer);

    parcel->wait = visit->listens;
    if (visit->probing) {
        parcel->probe = g_strdup(tx_replica(job->tx));
        parcel->probe_from = visit->probe_from;
        parcel->probe_to = visit->probe_to;
    } else if (!visit->listens) {
        merge_give(job, theirs, parcel, EVENTS_MOST);
        if (parcel->events->len > 0 && is_stuck(visit, theirs)) {
            set_problem(visit, "it does not take in what it is given");
            return;
        }
    }
    if (visit->heard && !more && parcel->events->len == 0) return;
    visit->question = parcel_pack(parcel);
    if (visit->question == NULL) set_problem(visit, "an entry is too large to be carried");
}

static void find_way(Visit *visit, const Row *peer)
{
    g_free(visit->url);
    g_free(visit->pin);
    visit->url = g_strdup_printf("https://%s/%s", row_text(peer, PEER_ADDRESS),
                                 visit->borrows ? "snapshot" : "sync");
    visit->pin = g_strdup(row_text(peer, PEER_PIN));
}

/* Who is new, and has given what is its own. */
static bool may_borrow(Job *job, const Visit *visit, const Row *peer)
{
    g_autoptr(GArray) theirs = peer_vector(peer), own = tx_vector(job->tx);

    return visit->heard && !visit->listens && visit->note == NULL && !visit->probing &&
           !visit->parted && visit->renamed == NULL && vector_ahead(own, theirs) == 0 &&
           borrow_may(job, visit->lane, theirs);
}

static bool go_on(Job *job, void *context)
{
    Visit *visit = context;
    g_autoptr(Row) peer = tx_get_text(job->tx, TABLE_PEER, visit->lane->peer);
    bool more = false;

    if (peer == NULL || !row_is_null(peer, PEER_CUT_AT) || row_is_null(peer, PEER_ADDRESS))
        return true;
    if (visit->answer != NULL) take_answer(job, visit, peer, &more);
    g_clear_pointer(&visit->answer, g_bytes_unref);
    visit->borrows = visit->problem == NULL && may_borrow(job, visit, peer);
    find_way(visit, peer);
    if (visit->problem == NULL && !visit->borrows)
        make_question(job, visit, peer, more || visit->goes_on);
    visit->goes_on = false;
    const char *words = visit->problem != NULL ? visit->problem : visit->note;
    if (!visit->listens || words != NULL) row_set_text(peer, PEER_PROBLEM, words);
    tx_put(job->tx, peer);
    return true;
}

/* --- on the loop --------------------------------------------------------------------------------- */

static void step(Visit *visit);

static void answer_callers(Lane *lane, const char *problem)
{
    for (guint i = 0; i < lane->callers->len; i++)
        caller_hears(lane->callers->pdata[i], lane->peer, problem);
    g_ptr_array_set_size(lane->callers, 0);
}

static void finish(Visit *visit)
{
    Lane *lane = visit->lane;
    bool went_well = visit->problem == NULL && visit->heard;

    if (visit->listens) {
        lane->listening = false;
        if (went_well) lane_listen(lane);
        visit_free(visit);
        return;
    }
    lane->talking = false;
    if (lane->again && !lane->sync->stopping) {
        lane->again = false;
        lane_talk(lane);
    } else {
        answer_callers(lane, went_well                ? visit->note
                             : visit->problem != NULL ? visit->problem
                                                      : "osierd stops, or the peer was unpaired");
        if (went_well) lane_listen(lane);
    }
    visit_free(visit);
}

static void noted(StoreStatus status, void *context)
{
    Visit *visit = context;

    (void)status;
    if (!visit->listens) visit->lane->sync->busy--;
    finish(visit);
}

static bool note_problem(Job *job, void *context)
{
    const Visit *visit = context;
    g_autoptr(Row) peer = tx_get_text(job->tx, TABLE_PEER, visit->lane->peer);

    if (peer == NULL) return true;
    row_set_text(peer, PEER_PROBLEM, visit->problem);
    tx_put(job->tx, peer);
    return true;
}

/* A call that waited and was cut off is no trouble worth writing down: the next visit tells. */
static void fail(Visit *visit, const char *problem)
{
    set_problem(visit, problem);
    if (visit->listens || visit->lane->sync->stopping) {
        finish(visit);
        return;
    }
    visit->lane->sync->busy++;
    desk_submit(visit->lane->sync->desk, note_problem, noted, visit);
}

static char *trouble_of(const WireResponse *response)
{
    if (response->phase != PHASE_ANSWERED)
        return g_strdup_printf("it cannot be reached: %s", response->error);
    if (response->status == 404)
        return g_strdup("it does not know this replica: it was unpaired there; pair anew");
    if (response->status == 400)
        return g_strdup("it cannot read what this replica says: see that both have the same "
                        "version of osier");
    if (response->status == 409)
        return g_strdup("it has this replica's key under another id: unpair it there, remove "
                        "secrets/replica.* here, and pair anew");
    if (response->status != 200)
        return g_strdup_printf("it answered with status %ld", response->status);
    return NULL;
}

static void answered(WireResponse *response, void *context)
{
    Visit *visit = context;
    g_autofree char *trouble = trouble_of(response);

    if (!visit->listens) visit->lane->sync->busy--;
    if (trouble != NULL) {
        fail(visit, trouble);
    } else {
        visit->answer = g_bytes_ref(response->body);
        step(visit);
    }
    wire_response_free(response);
}

static void ask(Visit *visit)
{
    Sync *sync = visit->lane->sync;
    WireRequest *request = wire_request_new(EXCHANGE_HTTP, visit->url);

    request->body = g_steal_pointer(&visit->question);
    request->pin = g_strdup(visit->pin);
    request->certificate = g_strdup(sync->own->certificate);
    request->key = g_strdup(sync->own->key);
    request->timeout_ms = visit->listens ? LISTEN_MS : TALK_MS;
    request->answer_max = PARCEL_MAX;
    request->repeatable = true;
    wire_request_header(request, "Content-Type", "application/octet-stream");
    if (!visit->listens) sync->busy++;
    net_submit(sync->net, request, answered, visit);
}

/* A refused one is told of, although the visit goes on. */
static void borrowed(BorrowResult result, const char *why, void *context)
{
    Visit *visit = context;

    visit->lane->sync->busy--;
    visit->borrows = false;
    visit->goes_on = true;
    if (result == BORROW_REFUSED)
        visit->note = g_strdup_printf("its snapshot was refused: %s; entries are taken in one "
                                      "by one instead",
                                      why);
    if (result == BORROW_CUT) {
        g_autofree char *problem = g_strdup_printf("it cannot be reached: %s", why);
        fail(visit, problem);
    } else if (visit->lane->sync->stopping) {
        finish(visit);
    } else {
        step(visit);
    }
}

static void borrow(Visit *visit)
{
    visit->lane->sync->busy++;
    borrow_begin(visit->lane, visit->url, visit->pin, borrowed, visit);
}

static void stepped(StoreStatus status, void *context)
{
    Visit *visit = context;
    Sync *sync = visit->lane->sync;
    g_autofree char *why = NULL;

    sync->busy--;
    if (status == STORE_OK && visit->renamed != NULL) {
        g_free(visit->lane->peer);
        visit->lane->peer = g_steal_pointer(&visit->renamed);
    }
    if (status != STORE_OK && visit->problem == NULL)
        set_problem(visit, "the store took nothing in: there is no room, or it has failed");
    if (sync->stopping || visit->problem != NULL || (visit->question == NULL && !visit->borrows)) {
        finish(visit);
        return;
    }
    if (sync_own(sync, &why) == NULL)
        fail(visit, why);
    else if (visit->borrows)
        borrow(visit);
    else
        ask(visit);
}

static void step(Visit *visit)
{
    visit->lane->sync->busy++;
    desk_submit(visit->lane->sync->desk, go_on, stepped, visit);
}

static void begin(Lane *lane, bool listens)
{
    Visit *visit = g_new0(Visit, 1);

    visit->lane = lane;
    visit->listens = listens;
    step(visit);
}

void lane_talk(Lane *lane)
{
    if (lane->sync->stopping) return;
    if (lane->talking) {
        lane->again = true;
        return;
    }
    lane->talking = true;
    begin(lane, false);
}

/* Under a clock that stands still nothing is waited for. */
void lane_listen(Lane *lane)
{
    if (lane->listening || lane->sync->stopping || clock_is_stepped(desk_clock(lane->sync->desk)))
        return;
    lane->listening = true;
    begin(lane, true);
}

void lane_free(Lane *lane)
{
    answer_callers(lane, "osierd stops");
    g_ptr_array_unref(lane->callers);
    borrow_free(lane->borrow);
    g_free(lane->peer);
    g_free(lane);
}
