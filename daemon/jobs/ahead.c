/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/jobs/ahead.h"

#include <string.h>

#include "adapters/store/find_people.h"
#include "adapters/store/find_work.h"
#include "core/ledger/id.h"
#include "daemon/desk/person.h"
#include "daemon/jobs/erase.h"
#include "daemon/jobs/schedule.h"

/* How many messages of the started kinds went to one client on one day. */
typedef struct {
    int64_t from_ms, to_ms;
    int started;
} Count;

typedef struct Ahead {
    GHashTable *counts;  /* client -> Count */
    GHashTable *numbers; /* those asked about -> whether several clients have it */
} Ahead;

static GPtrArray *texts_new(void)
{
    return g_ptr_array_new_with_free_func(g_free);
}

static void add(GPtrArray *texts, const char *text)
{
    if (text != NULL) g_ptr_array_add(texts, g_strdup(text));
}

/* --- what went to clients today --- */

static void count_one(const char *client, void *context)
{
    Count *count = g_hash_table_lookup(context, client);

    if (count != NULL) count->started++;
}

/* Of those whose day is that of the first. */
static void count_day(Job *job, Person **people, guint n)
{
    const ZoneDay day = *job_day(job, people[0]->zone);
    g_autoptr(GPtrArray) clients = g_ptr_array_new();

    for (guint i = 0; i < n; i++) {
        const ZoneDay *its = job_day(job, people[i]->zone);
        if (its->from_ms != day.from_ms || its->to_ms != day.to_ms) continue;
        Count *count = g_new0(Count, 1);
        *count = (Count){.from_ms = day.from_ms, .to_ms = day.to_ms};
        g_hash_table_replace(job->ahead->counts, g_strdup(people[i]->id), count);
        g_ptr_array_add(clients, people[i]->id);
    }
    find_started_among(job->tx, clients, day.from_ms, day.to_ms, count_one, job->ahead->counts);
}

static void ahead_begin(Job *job)
{
    g_assert(job->ahead == NULL);
    job->ahead = g_new0(Ahead, 1);
    job->ahead->counts = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, g_free);
    job->ahead->numbers = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
}

static void count_started(Job *job, GPtrArray *people)
{
    for (guint i = 0; i < people->len; i++) {
        Person *person = people->pdata[i];
        if (!g_hash_table_contains(job->ahead->counts, person->id))
            count_day(job, (Person **)people->pdata + i, people->len - i);
    }
}

int ahead_started(Job *job, const char *client, int64_t from_ms, int64_t to_ms)
{
    const Count *count =
        job->ahead != NULL ? g_hash_table_lookup(job->ahead->counts, client) : NULL;
    int started;

    if (count == NULL || count->from_ms != from_ms || count->to_ms != to_ms)
        return find_started(job->tx, client, from_ms, to_ms);
    started = count->started;
    g_hash_table_remove(job->ahead->counts, client);
    return started;
}

void ahead_posted(Job *job, const char *client)
{
    if (job->ahead != NULL && client != NULL) g_hash_table_remove(job->ahead->counts, client);
}

void ahead_end(Job *job)
{
    if (job->ahead == NULL) return;
    g_hash_table_unref(job->ahead->counts);
    g_hash_table_unref(job->ahead->numbers);
    g_clear_pointer(&job->ahead, g_free);
}

/* --- who shares a phone --- */

static void note_shared(const char *number, void *context)
{
    g_hash_table_replace(context, g_strdup(number), GINT_TO_POINTER(true));
}

static void look_for_shared(Job *job, const GPtrArray *people)
{
    g_autoptr(GPtrArray) numbers = g_ptr_array_new();

    for (guint i = 0; i < people->len; i++) {
        char *number = ((const Person *)people->pdata[i])->address[CHANNEL_SMS];
        if (number == NULL || !tx_can_be_among(number)) continue;
        g_ptr_array_add(numbers, number);
        g_hash_table_replace(job->ahead->numbers, g_strdup(number), GINT_TO_POINTER(false));
    }
    find_shared_among(job->tx, numbers, note_shared, job->ahead->numbers);
}

bool ahead_may_share(Job *job, const char *number)
{
    void *shared;

    return job->ahead == NULL ||
           !g_hash_table_lookup_extended(job->ahead->numbers, number, NULL, &shared) ||
           GPOINTER_TO_INT(shared);
}

/* --- who was erased --- */

static void look_for_erased(Job *job, const GPtrArray *people)
{
    g_autoptr(GPtrArray) addresses = g_ptr_array_new();

    for (guint i = 0; i < people->len; i++) {
        const Person *person = people->pdata[i];
        if (person->channel != CHANNEL_PHONE && person->address[person->channel] != NULL)
            g_ptr_array_add(addresses, person->address[person->channel]);
    }
    erase_look_ahead(job, addresses);
}

/* Cards are read, and what else is wanted of these clients. */
static GPtrArray *people_of(Job *job, const GPtrArray *clients)
{
    GPtrArray *people = g_ptr_array_new_with_free_func((GDestroyNotify)person_free);

    tx_fetch(job->tx, TABLE_CARD, NULL, clients);
    for (guint i = 0; i < clients->len; i++) {
        Person *person = person_load(job, clients->pdata[i]);
        if (person != NULL && tx_can_be_among(person->id))
            g_ptr_array_add(people, person);
        else
            person_free(person);
    }
    look_for_erased(job, people);
    return people;
}

/* --- sessions --- */

static void fetch_messages(Job *job, const GPtrArray *messages)
{
    tx_fetch(job->tx, TABLE_OUTBOX, NULL, messages);
    tx_fetch(job->tx, TABLE_MESSAGE, NULL, messages);
}

/* The session that a row of the due index is for, where nothing has changed since; and its reminder. */
static void add_session(const Row *due, GPtrArray *clients, GPtrArray *sessions,
                        GPtrArray *messages)
{
    const char *client = row_text(due, DUE_KEY);
    char *session = schedule_session_due(client, row_text(due, DUE_BODY));

    add(clients, client);
    if (session == NULL) return;
    g_autofree char *purpose = schedule_purpose(session);
    g_ptr_array_add(sessions, session);
    g_ptr_array_add(messages, id_message(purpose));
}

/* A nudge, or the end of waiting: for a session that was asked, by a message. */
static void add_asked(Job *job, const GPtrArray *asked, GPtrArray *clients)
{
    g_autoptr(GPtrArray) messages = texts_new();

    tx_fetch(job->tx, TABLE_SESSION, NULL, asked);
    for (guint i = 0; i < asked->len; i++) {
        g_autoptr(Row) session = tx_get_text(job->tx, TABLE_SESSION, asked->pdata[i]);
        if (session == NULL) continue;
        add(messages, row_text(session, SESSION_MESSAGE));
        add(clients, row_text(session, SESSION_CLIENT));
    }
    tx_fetch(job->tx, TABLE_MESSAGE, NULL, messages);
}

void ahead_of_due(Job *job, const GPtrArray *due)
{
    if (!tx_is_far(job->tx) || due->len < 2) return;
    g_autoptr(GPtrArray) clients = texts_new(), sessions = texts_new(), messages = texts_new();
    g_autoptr(GPtrArray) asked = texts_new();

    for (guint i = 0; i < due->len; i++) {
        const char *kind = row_text(due->pdata[i], DUE_KIND);
        if (strcmp(kind, "session") == 0)
            add_session(due->pdata[i], clients, sessions, messages);
        else if (strcmp(kind, "silent") == 0 || strcmp(kind, "nudge") == 0)
            add(asked, row_text(due->pdata[i], DUE_KEY));
    }
    tx_fetch(job->tx, TABLE_DUE, "course", clients);
    tx_fetch(job->tx, TABLE_SESSION, NULL, sessions);
    fetch_messages(job, messages);
    add_asked(job, asked, clients);
    g_autoptr(GPtrArray) people = people_of(job, clients);
    ahead_begin(job);
    count_started(job, people);
    look_for_shared(job, people);
}

/* --- messages --- */

void ahead_of_claims(Job *job, const GPtrArray *rows)
{
    if (!tx_is_far(job->tx) || rows->len < 2) return;
    g_autoptr(GPtrArray) clients = texts_new();

    for (guint i = 0; i < rows->len; i++)
        add(clients, row_text(rows->pdata[i], OUTBOX_CLIENT));
    g_autoptr(GPtrArray) people = people_of(job, clients);
    ahead_begin(job);
    count_started(job, people);
}

void ahead_of_fates(Job *job, const GPtrArray *messages, const char *gateway,
                    const GPtrArray *gateway_ids)
{
    if (!tx_is_far(job->tx) || messages->len < 2) return;
    g_autoptr(GPtrArray) sessions = texts_new();

    fetch_messages(job, messages);
    for (guint i = 0; i < messages->len; i++) {
        g_autoptr(Row) row = tx_get_text(job->tx, TABLE_OUTBOX, messages->pdata[i]);
        if (row != NULL) add(sessions, row_text(row, OUTBOX_SESSION));
    }
    tx_fetch(job->tx, TABLE_SESSION, NULL, sessions);
    if (gateway == NULL) return;
    /* A receipt may have come already, under the gateway's id or under ours. */
    g_autoptr(GPtrArray) ids = g_ptr_array_copy((GPtrArray *)gateway_ids, NULL, NULL);
    for (guint i = 0; i < messages->len; i++)
        g_ptr_array_add(ids, messages->pdata[i]);
    tx_fetch(job->tx, TABLE_RECEIPT, gateway, ids);
}
