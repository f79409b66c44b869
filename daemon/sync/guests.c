/* SPDX-License-Identifier: Apache-2.0 */
/* Replicas call here. Who has no key that this one was paired with learns nothing: whatever is asked, the answer is an empty 404. A
 * call that asks to wait is kept while there is nothing new for it. */
#include <string.h>

#include "daemon/sync/caller.h"
#include "daemon/sync/lend.h"
#include "daemon/sync/merge.h"
#include "daemon/sync/peers.h"
#include "daemon/sync/sync_inside.h"

/* One call on its way through. */
typedef struct {
    Sync *sync;
    ServeRequest *request;
    char *pin;
    GBytes *question;
    GBytes *answer; /* NULL: nobody we know, or it waits */
    int status;
    bool waits;       /* there was nothing new */
    bool last_chance; /* answered, news or not */
    bool moved;       /* the record grew while it was looked at */
    bool asked;       /* a job is looking at it */
    int64_t until_ms;
} Guest;

static void guest_free(Guest *guest)
{
    g_free(guest->pin);
    g_bytes_unref(guest->question);
    if (guest->answer != NULL) g_bytes_unref(guest->answer);
    g_free(guest);
}

/* --- on the store thread ------------------------------------------------------------------------ */

/* forked: a chain that is another there, or NULL. */
static void note_peer(Job *job, Row *peer, const Parcel *parcel, const char *forked)
{
    g_autofree char *problem = NULL;

    if (forked != NULL && strcmp(forked, parcel->replica) != 0 &&
        strcmp(forked, tx_replica(job->tx)) != 0)
        problem = merge_fork(forked, parcel->replica);

    peer_set_vector(peer, parcel->vector);
    row_set_int(peer, PEER_LAST_AT, job->now_ms);
    row_set_int(peer, PEER_CLOCK_MS, parcel->wall_ms - job->now_ms);
    row_set_text(peer, PEER_PROBLEM, problem);
    if (parcel->name != NULL) row_set_text(peer, PEER_NAME, parcel->name);
    tx_put(job->tx, peer);
}

/* What a peer sent is not taken in: its people hear of it by the status, ours by this. */
static bool refuse(Job *job, Guest *guest, Row *peer, int status, const char *problem)
{
    guest->status = status;
    row_set_text(peer, PEER_PROBLEM, problem);
    tx_put(job->tx, peer);
    return true;
}

static bool look_at(Job *job, void *context)
{
    Guest *guest = context;
    g_autoptr(Row) peer = guest->pin != NULL ? peer_by_pin(job, guest->pin) : NULL;
    const char *why;

    guest->status = 404;
    if (peer == NULL) return true;
    g_autoptr(Parcel) parcel = parcel_unpack(guest->question, &why);
    if (parcel == NULL) {
        g_autofree char *problem =
            g_strdup_printf("what it sent cannot be read: %s; see that both have the same version "
                            "of osier, and that nobody else has its key",
                            why);
        return refuse(job, guest, peer, 400, problem);
    }
    /* of this replica's own id is who holds a copy of its store: that is found out below */
    bool own = strcmp(parcel->replica, tx_replica(job->tx)) == 0;
    if (!own && !peer_may_be(job, peer, parcel->replica))
        return refuse(job, guest, peer, 409,
                      "it says that it is another peer of this replica; pair it anew");
    g_autofree char *forked = merge_take(job, parcel);
    g_autoptr(Parcel) answer = merge_parcel(job);
    answer->forked = g_steal_pointer(&forked);
    if (parcel->probe != NULL)
        merge_mark(job, parcel->probe, parcel->probe_from, parcel->probe_to, answer->marks);
    else
        merge_give(job, parcel->vector, answer, EVENTS_MOST);
    /* a fork of a third replica's chain is no news to wake a caller for, again and again */
    bool parted = g_strcmp0(answer->forked, parcel->replica) == 0 ||
                  g_strcmp0(answer->forked, tx_replica(job->tx)) == 0;
    bool news = answer->events->len > 0 || parted || parcel->events->len > 0;
    guest->waits = parcel->wait && !news && !guest->last_chance;
    if (guest->waits) return true;
    if (strcmp(row_text(peer, PEER_ID), parcel->replica) != 0 && !own) {
        /* it found out that it was a copy, and goes on under another id */
        tx_delete(job->tx, peer);
        row_set_text(peer, PEER_ID, parcel->replica);
    }
    note_peer(job, peer, parcel, answer->forked);
    guest->answer = parcel_pack(answer);
    guest->status = guest->answer != NULL ? 200 : 500;
    return true;
}

/* --- on the loop --------------------------------------------------------------------------------- */

static void look(Guest *guest);

static void set_wait(Sync *sync)
{
    const Guest *oldest = g_queue_peek_head(sync->waiting);

    timer_set(sync->wait, oldest != NULL ? oldest->until_ms : CLOCK_NEVER);
}

/* Of one peer one call waits, the latest: who had to call again does not hear the one before, and nothing tells us that it is
 * gone. */
static void let_go_others(const Guest *latest)
{
    Sync *sync = latest->sync;
    GList *link = sync->waiting->head;

    while (link != NULL && link->data != latest) {
        Guest *guest = link->data;
        link = link->next;
        if (guest->asked || !guest->waits || strcmp(guest->pin, latest->pin) != 0) continue;
        g_queue_remove(sync->waiting, guest);
        caller_turn_away(guest->request, 503);
        guest_free(guest);
    }
    set_wait(sync);
}

static void looked_at(StoreStatus status, void *context)
{
    Guest *guest = context;
    Sync *sync = guest->sync;

    guest->asked = false;
    sync->busy--;
    if (status == STORE_OK && guest->waits && !sync->stopping) {
        bool again = guest->moved;
        guest->moved = false;
        let_go_others(guest);
        if (again) look(guest);
        return;
    }
    g_queue_remove(sync->waiting, guest);
    set_wait(sync);
    if (status != STORE_OK || guest->waits)
        caller_turn_away(guest->request, 503);
    else if (guest->status == 200)
        serve_answer(guest->request, 200, "application/octet-stream", NULL,
                     g_bytes_ref(guest->answer));
    else
        caller_turn_away(guest->request, guest->status);
    if (guest->status == 404 && sync->known != NULL) /* unpaired since */
        g_hash_table_remove(sync->known, guest->pin);
    guest_free(guest);
}

static void look(Guest *guest)
{
    guest->asked = true;
    guest->sync->busy++;
    desk_submit(guest->sync->desk, look_at, looked_at, guest);
}

void guests_moved(Sync *sync)
{
    for (GList *link = sync->waiting->head; link != NULL; link = link->next) {
        Guest *guest = link->data;
        if (guest->asked)
            guest->moved = true;
        else
            look(guest);
    }
}

void guests_timer(void *context)
{
    Sync *sync = context;
    Guest *oldest = g_queue_peek_head(sync->waiting);

    if (oldest == NULL) return;
    oldest->last_chance = true;
    oldest->moved = true;
    if (!oldest->asked) look(oldest);
}

void guests_close(Sync *sync)
{
    GList *link = sync->waiting->head;

    while (link != NULL) {
        Guest *guest = link->data;
        link = link->next;
        if (guest->asked) continue; /* its job's end turns it away */
        g_queue_remove(sync->waiting, guest);
        caller_turn_away(guest->request, 503);
        guest_free(guest);
    }
    set_wait(sync);
}

bool guests_keep(const ServeRequest *request, void *context)
{
    const Sync *sync = context;
    const char *pin = serve_pin(request);

    if (pin == NULL) return false;
    if (sync->known == NULL || g_hash_table_contains(sync->known, pin)) return true;
    const char *length = serve_header(request, "content-length");
    return sync->offer.token[0] != '\0' && strcmp(serve_path(request), "/pair") == 0 &&
           length != NULL && g_ascii_strtoull(length, NULL, 10) <= INTRODUCTION_MAX;
}

void guests_handle(ServeRequest *request, void *context)
{
    Sync *sync = context;
    const char *path = serve_path(request);
    bool post = strcmp(serve_method(request), "POST") == 0;

    if (sync->stopping) {
        caller_turn_away(request, 503);
    } else if (post && strcmp(path, "/pair") == 0) {
        pairing_answer(sync, request);
    } else if (post && strcmp(path, "/snapshot") == 0 && serve_pin(request) != NULL) {
        lend_answer(sync->lend, request);
    } else if (post && strcmp(path, "/sync") == 0 && serve_pin(request) != NULL) {
        Guest *guest = g_new0(Guest, 1);
        *guest = (Guest){.sync = sync,
                         .request = request,
                         .pin = g_strdup(serve_pin(request)),
                         .question = g_bytes_ref(serve_body(request)),
                         .until_ms = clock_now(desk_clock(sync->desk)) + WAIT_MS};
        g_queue_push_tail(sync->waiting, guest);
        set_wait(sync);
        look(guest);
    } else {
        caller_turn_away(request, 404);
    }
}
