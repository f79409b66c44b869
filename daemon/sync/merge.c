/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/sync/merge.h"

#include <string.h>

#include "core/ledger/fold.h"
#include "daemon/desk/sender.h"
#include "daemon/jobs/alert.h"
#include "daemon/jobs/erase.h"
#include "daemon/jobs/heed.h"
#include "daemon/jobs/takeover.h"

/* Before it is compressed. One event alone may be larger. */
#define BYTES_MOST (700 * 1024)
#define MARKS 64
/* Who lacks so many is new here, or comes back after months: it is given more at once. */
#define MANY_LACKED 5000
#define MANY_TIMES 2

Parcel *merge_parcel(Job *job)
{
    Parcel *parcel = parcel_new(tx_replica(job->tx), job->now_ms);
    g_autofree char *name = replica_name(job->tx, tx_replica(job->tx));

    parcel->name = g_steal_pointer(&name);
    g_array_unref(parcel->vector);
    parcel->vector = tx_vector(job->tx);
    return parcel;
}

/* --- taking in --- */

/* Has the other side, by its own word, another event than this one under a number that both have? */
static bool differs(Job *job, const VectorEntry *entry)
{
    uint8_t digest[DIGEST_BYTES];

    return tx_digest(job->tx, entry->replica, entry->seq, digest) &&
           memcmp(digest, entry->digest, DIGEST_BYTES) != 0;
}

static char *forked_by_vector(Job *job, const Parcel *parcel)
{
    const char *own = tx_replica(job->tx);
    g_autoptr(GArray) here = tx_vector(job->tx);

    if (strcmp(parcel->replica, own) == 0) return g_strdup(own);
    for (guint i = 0; i < parcel->vector->len; i++) {
        const VectorEntry *entry = &g_array_index(parcel->vector, VectorEntry, i);
        const VectorEntry *head = vector_find(here, entry->replica);
        bool beyond = head != NULL && entry->seq > head->seq;
        if (differs(job, entry) || (beyond && strcmp(entry->replica, own) == 0))
            return g_strdup(entry->replica);
    }
    return NULL;
}

/* What this replica lacks before an event is missing from a parcel only where the other side thought it had more; it comes with
 * the next. */
static void take_all(Job *job, const Parcel *parcel, GPtrArray *fresh, char **forked)
{
    g_autoptr(GHashTable) left_out = g_hash_table_new(g_str_hash, g_str_equal);

    if (*forked != NULL) g_hash_table_add(left_out, *forked);
    for (guint i = 0; i < parcel->events->len; i++) {
        Event *event = parcel->events->pdata[i];
        if (g_hash_table_contains(left_out, event->replica)) continue;
        switch (tx_accept(job->tx, event)) {
        case ACCEPT_NEW: g_ptr_array_add(fresh, event); break;
        case ACCEPT_KNOWN: break;
        case ACCEPT_GAP: g_hash_table_add(left_out, event->replica); break;
        case ACCEPT_FORK:
        case ACCEPT_BROKEN:
            g_hash_table_add(left_out, event->replica);
            if (*forked == NULL) *forked = g_strdup(event->replica);
            break;
        }
    }
}

static void lose_duty(Job *job)
{
    g_autoptr(Sender) sender = sender_load(job->tx);
    g_autofree char *why = sender_why_not(job->tx, sender);

    takeover_end(job, why);
}

typedef struct {
    int64_t epoch;
    int takers;
} Takers;

static int64_t epoch_in(const Event *event)
{
    json_t *body = event->body != NULL ? json_loads(event->body, 0, NULL) : NULL;
    int64_t epoch = duty_epoch(body);

    json_decref(body);
    return epoch;
}

static bool count_taker(const Event *event, void *context)
{
    Takers *takers = context;

    if (epoch_in(event) == takers->epoch) takers->takers++;
    return true;
}

static void tell_two_senders(Job *job, int64_t epoch, const char *outcome, const char *words)
{
    g_autofree char *cause = g_strdup_printf("epoch/%" G_GINT64_FORMAT, epoch);
    json_t *reasons = json_array();

    json_array_append_new(reasons, reason_words("sender", outcome, words));
    g_free(alert_open(
        job, NULL,
        &(Opening){
            .kind = "two-senders", .class = ALERT_TODAY, .cause = cause, .reasons = reasons}));
    json_decref(reasons);
}

/* Two replicas took the duty while cut off from one another: one of them has it now, and people should know that for a while both
 * sent. */
static void note_two_senders(Job *job, int64_t epoch)
{
    Takers takers = {.epoch = epoch};

    tx_events(job->tx, "subject = 'clinic' AND kind = 'sender.taken'", count_taker, &takers, "");
    if (takers.takers < 2) return;
    tell_two_senders(job, epoch, "taken twice",
                     "two replicas took the duty to send while they did not hear of each other; "
                     "some messages may have gone out twice");
}

/* What only the sender writes, by another than the one that had the duty already. */
static bool is_sent_without_duty(Job *job, const Sender *duty, const Event *event)
{
    Event seen = tx_seen(job->tx, event);

    return strcmp(event->kind, "session.asked") == 0 && seen.wall > duty->since &&
           strcmp(event->replica, tx_replica(job->tx)) != 0;
}

/* The duty was taken from a sender that did not hear of it, and went on. */
static void note_sent_beside(Job *job, const GPtrArray *fresh)
{
    g_autoptr(Sender) duty = sender_load(job->tx);

    for (guint i = 0; duty->epoch > 0 && i < fresh->len; i++) {
        if (!is_sent_without_duty(job, duty, fresh->pdata[i])) continue;
        tell_two_senders(job, duty->epoch, "sent beside",
                         "the replica that had the duty to send did not hear that another took it, "
                         "and went on; some messages may have gone out twice");
        return;
    }
}

char *merge_take(Job *job, const Parcel *parcel)
{
    g_autoptr(GPtrArray) fresh = g_ptr_array_new();
    char *forked = forked_by_vector(job, parcel);
    bool sent = job->sender;

    take_all(job, parcel, fresh, &forked);
    for (guint i = 0; i < fresh->len; i++)
        erase_heard(job, fresh->pdata[i]);
    tx_catch_up(job->tx);
    job->sender = sender_is_here(job->tx);
    if (sent && !job->sender) lose_duty(job);
    heed_events(job, fresh);
    for (guint i = 0; job->sender && i < fresh->len; i++)
        if (strcmp(((const Event *)fresh->pdata[i])->kind, "sender.taken") == 0)
            note_two_senders(job, epoch_in(fresh->pdata[i]));
    if (job->sender) note_sent_beside(job, fresh);
    return forked;
}

char *merge_fork(const char *replica, const char *peer)
{
    if (strcmp(replica, peer) == 0)
        return g_strdup("it lacks entries of its own that it gave away before, or has others: its "
                        "store was put back by other means than osier restore. Make it a replica "
                        "of its own there, with osier backup and osier restore, and pair it anew");
    return g_strdup_printf("the entries of replica %s are others there than here: one of two "
                           "stores is a copy. Nothing of it is exchanged; let that replica visit "
                           "first",
                           replica);
}

/* --- giving --- */

typedef struct {
    Parcel *into;
    int left;
    size_t bytes;
} Giving;

static bool give(const Event *event, void *context)
{
    Giving *giving = context;
    size_t size = (event->body != NULL ? strlen(event->body) : 0) + 300;

    if (giving->left == 0 || (giving->bytes > 0 && giving->bytes + size > BYTES_MOST)) {
        giving->into->more = true;
        return false;
    }
    giving->left--;
    giving->bytes += size;
    g_ptr_array_add(giving->into->events, event_copy(event));
    return true;
}

void merge_give(Job *job, const GArray *vector, Parcel *into, int limit)
{
    bool many = vector_ahead(into->vector, vector) >= MANY_LACKED;
    Giving giving = {.into = into, .left = many ? limit * MANY_TIMES : limit};
    const GArray *own = into->vector;

    for (guint i = 0; i < own->len && !into->more; i++) {
        const VectorEntry *entry = &g_array_index(own, VectorEntry, i);
        const VectorEntry *there = vector_find(vector, entry->replica);

        if (there != NULL && (there->seq >= entry->seq || differs(job, there))) continue;
        tx_events(job->tx, "replica = ?1 AND seq > ?2 ORDER BY seq LIMIT ?3", give, &giving, "tii",
                  entry->replica, there != NULL ? there->seq : (int64_t)0,
                  (int64_t)giving.left + 1);
    }
}

/* --- a copy of a store --- */

void merge_mark(Job *job, const char *replica, int64_t from, int64_t to, GArray *marks)
{
    g_autoptr(GArray) own = tx_vector(job->tx);
    const VectorEntry *head = vector_find(own, replica);
    int64_t last = 0;

    if (head == NULL || from < 1) return;
    to = MIN(to, head->seq);
    for (int i = 0; i <= MARKS && from <= to; i++) {
        int64_t seq = from + (int64_t)((double)(to - from) * i / MARKS);
        uint8_t digest[DIGEST_BYTES];
        if (seq == last || !tx_digest(job->tx, replica, seq, digest)) continue;
        vector_add(marks, replica, seq, digest);
        last = seq;
    }
}

void merge_compare(Job *job, const GArray *marks, int64_t *same, int64_t *other)
{
    *same = *other = 0;
    for (guint i = 0; i < marks->len; i++) {
        const VectorEntry *mark = &g_array_index(marks, VectorEntry, i);
        uint8_t digest[DIGEST_BYTES];
        bool here = tx_digest(job->tx, tx_replica(job->tx), mark->seq, digest);

        if (strcmp(mark->replica, tx_replica(job->tx)) != 0) continue;
        if (here && memcmp(digest, mark->digest, DIGEST_BYTES) == 0)
            *same = MAX(*same, mark->seq);
        else if (*other == 0 || mark->seq < *other)
            *other = mark->seq;
    }
}

void merge_rename(Job *job, int64_t shared)
{
    g_autofree char *before = g_strdup(tx_replica(job->tx));
    g_autofree char *id =
        g_strdup_printf("%016" G_GINT64_MODIFIER "x", random_number(job->random, "replica"));

    sender_join(job->tx);
    tx_rename(job->tx, id, shared);
    tx_append(job->tx, "replica.set", id, "osier", NULL,
              json_pack("{s:{s:s}}", "fields", "was", before));
    job->sender = sender_is_here(job->tx);
    takeover_end(job, "this store turned out to be a copy of another, which has the duty to send");
}
