/* SPDX-License-Identifier: Apache-2.0 */
/* Replicas call here. Who has no key that this one was paired with learns nothing: whatever is asked, the answer is an empty 404. A
 * call that asks to wait is kept while there is nothing new for it. */
#include <string.h>

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

static void turn_away(ServeRequest *request, int status)
{
    serve_answer(request, status, NULL, NULL, NULL);
}

/* --- on the store thread ------------------------------------------------------------------------ */

static void note_peer(Job *job, Row *peer, const Parcel *parcel)
{
    peer_set_vector(peer, parcel->vector);
    row_set_int(peer, PEER_LAST_AT, job->now_ms);
    row_set_int(peer, PEER_CLOCK_MS, parcel->wall_ms - job->now_ms);
    row_set_null(peer, PEER_PROBLEM);
    if (parcel->name != NULL) row_set_text(peer, PEER_NAME, parcel->name);
    tx_put(job->tx, peer);
}

static bool look_at(Job *job, void *context)
{
    Guest *guest = context;
    g_autoptr(Row) peer = guest->pin != NULL ? peer_by_pin(job, guest->pin) : NULL;
    const char *why;

    guest->status = 404;
    if (peer == NULL) return true;
    g_autoptr(Parcel) parcel = parcel_unpack(guest->question, &why);
    guest->status = 400;
    if (parcel == NULL) return true;
    g_autofree char *forked = merge_take(job, parcel);
    g_autoptr(Parcel) answer = merge_parcel(job);
    answer->forked = g_steal_pointer(&forked);
    if (parcel->probe != NULL)
        merge_mark(job, parcel->probe, parcel->probe_from, parcel->probe_to, answer->marks);
    else
        merge_give(job, parcel->vector, answer, EVENTS_MOST);
    bool news = answer->events->len > 0 || answer->forked != NULL || parcel->events->len > 0;
    guest->waits = parcel->wait && !news && !guest->last_chance;
    if (guest->waits) return true;
    if (strcmp(row_text(peer, PEER_ID), parcel->replica) != 0 && answer->forked == NULL) {
        /* it found out that it was a copy, and goes on under another id */
        tx_delete(job->tx, peer);
        row_set_text(peer, PEER_ID, parcel->replica);
    }
    note_peer(job, peer, parcel);
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

static void looked_at(StoreStatus status, void *context)
{
    Guest *guest = context;
    Sync *sync = guest->sync;

    guest->asked = false;
    sync->busy--;
    if (status == STORE_OK && guest->waits && !sync->stopping) {
        bool again = guest->moved;
        guest->moved = false;
        if (again) look(guest);
        return;
    }
    g_queue_remove(sync->waiting, guest);
    set_wait(sync);
    if (status != STORE_OK || guest->waits)
        turn_away(guest->request, 503);
    else if (guest->status == 200)
        serve_answer(guest->request, 200, "application/octet-stream", NULL,
                     g_bytes_ref(guest->answer));
    else
        turn_away(guest->request, guest->status);
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
        turn_away(guest->request, 503);
        guest_free(guest);
    }
    set_wait(sync);
}

void guests_handle(ServeRequest *request, void *context)
{
    Sync *sync = context;
    const char *path = serve_path(request);
    bool post = strcmp(serve_method(request), "POST") == 0;

    if (sync->stopping) {
        turn_away(request, 503);
    } else if (post && strcmp(path, "/pair") == 0) {
        pairing_answer(sync, request);
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
        turn_away(request, 404);
    }
}
