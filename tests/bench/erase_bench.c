/* SPDX-License-Identifier: Apache-2.0 */
/* How long the store thread is held while somebody is erased from a ledger of 100,000 events, or as many as the first argument
 * says; and while two are said to be one. */
#include <stdio.h>
#include <stdlib.h>

#include "daemon/jobs/erase.h"
#include "daemon/jobs/same.h"
#include "tests/bench/history.h"
#include "tests/bench/office.h"

#define CLIENTS 200
#define BATCH 1000

typedef struct {
    GPtrArray *clients; /* of char * */
    int written, wanted;
    const char *client, *other;
    double ms;
} Erasing;

static void add_client(const TxResult *result, void *context)
{
    g_ptr_array_add(context, g_strdup(result->text[0]));
}

static bool find_clients(Job *job, void *context)
{
    tx_select(job->tx, "SELECT subject FROM setting WHERE field = 'name' ORDER BY subject",
              add_client, ((Erasing *)context)->clients, "");
    return true;
}

static bool write_some(Job *job, void *context)
{
    Erasing *erasing = context;

    for (int i = 0; i < BATCH; i++, erasing->written++) {
        guint client = (guint)erasing->written / 4 % erasing->clients->len;
        history_write(job->tx, erasing->written, erasing->clients->pdata[client], job->now_ms);
    }
    return true;
}

static bool erase(Job *job, void *context)
{
    Erasing *erasing = context;
    int64_t began = g_get_monotonic_time();
    g_autoptr(Person) person = person_load(job, erasing->client);

    g_assert(person != NULL);
    g_assert(erase_client(job, person, "R. Okafor", "early: a bench"));
    tx_catch_up(job->tx);
    erasing->ms = (double)(g_get_monotonic_time() - began) / 1000;
    return true;
}

static bool make_one(Job *job, void *context)
{
    Erasing *erasing = context;
    int64_t began = g_get_monotonic_time();

    tx_append(job->tx, "client.same_as", erasing->client, "R. Okafor", NULL,
              json_pack("{s:s, s:s, s:I}", "of", erasing->other, "by", "R. Okafor", "at",
                        (json_int_t)job->now_ms));
    same_settle(job, erasing->client);
    erasing->ms = (double)(g_get_monotonic_time() - began) / 1000;
    return true;
}

int main(int argc, char **argv)
{
    Erasing erasing = {.wanted = argc > 1 ? atoi(argv[1]) : 100000};
    Office *office = office_new(0, "2026-03-02T06:00:00Z");

    erasing.clients = g_ptr_array_new_with_free_func(g_free);
    office_fill_alike(office, CLIENTS);
    office_job(office, find_clients, &erasing);
    while (erasing.written < erasing.wanted)
        office_job(office, write_some, &erasing);
    erasing.client = erasing.clients->pdata[7];
    office_job(office, erase, &erasing);
    printf("%-36s %8.0f ms, of %d clients with %d events each\n", "one client erased", erasing.ms,
           CLIENTS, erasing.written * 5 / 4 / CLIENTS);
    erasing.client = erasing.clients->pdata[8];
    erasing.other = erasing.clients->pdata[9];
    office_job(office, make_one, &erasing);
    printf("%-36s %8.0f ms\n", "two clients are one", erasing.ms);
    g_ptr_array_unref(erasing.clients);
    office_free(office);
    return 0;
}
