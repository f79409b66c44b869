/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/intake/take_in.h"

#include "daemon/jobs/reply.h"

#define PAGE 50

typedef struct {
    Desk *desk;
    char *gateway;
    Channel channel;
    GPtrArray *items;
    char *cursor;
    int fresh;
    TakenIn *taken;
    void *context;
} Errand;

static bool store_job(Job *job, void *context)
{
    Errand *errand = context;

    for (guint i = 0; i < errand->items->len; i++)
        errand->fresh +=
            reply_store(job, errand->gateway, errand->channel, errand->items->pdata[i]);
    if (errand->cursor != NULL) {
        g_autoptr(Row) row = row_new(TABLE_CURSOR);
        row_set_text(row, CURSOR_GATEWAY, errand->gateway);
        row_set_text(row, CURSOR_VALUE, errand->cursor);
        tx_put(job->tx, row);
    }
    return true;
}

static void store_done(StoreStatus status, void *context)
{
    Errand *errand = context;

    if (status == STORE_OK && errand->items->len > 0) take_in_read(errand->desk);
    errand->taken(status, errand->fresh, errand->context);
    g_ptr_array_unref(errand->items);
    g_free(errand->gateway);
    g_free(errand->cursor);
    g_free(errand);
}

void take_in(Desk *desk, const char *gateway, Channel channel, GPtrArray *items, const char *cursor,
             TakenIn *taken, void *context)
{
    Errand *errand = g_new0(Errand, 1);

    *errand = (Errand){.desk = desk,
                       .gateway = g_strdup(gateway),
                       .channel = channel,
                       .items = items,
                       .cursor = g_strdup(cursor),
                       .taken = taken,
                       .context = context};
    desk_submit(desk, store_job, store_done, errand);
}

typedef struct {
    Desk *desk;
    int n;
} ReadErrand;

static bool read_job(Job *job, void *context)
{
    ReadErrand *errand = context;

    if (job->sender) errand->n = reply_read_stored(job, PAGE);
    return true;
}

static void read_done(StoreStatus status, void *context)
{
    ReadErrand *errand = context;

    if (status == STORE_OK && errand->n == PAGE) take_in_read(errand->desk);
    g_free(errand);
}

void take_in_read(Desk *desk)
{
    ReadErrand *errand = g_new0(ReadErrand, 1);

    errand->desk = desk;
    desk_submit(desk, read_job, read_done, errand);
}
