/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/intake/take_in.h"

#include "daemon/jobs/reply.h"
#include "daemon/jobs/settle.h"

#define PAGE 50

typedef struct {
    Desk *desk;
    Taking taking; /* strings owned */
    int fresh;
    TakenIn *taken;
    void *context;
} Errand;

static bool settle_receipts(Job *job, const Taking *taking)
{
    bool settled = false;

    for (guint i = 0; taking->receipts != NULL && i < taking->receipts->len; i++)
        settled |= settle_receipt(job, taking->gateway, taking->receipts->pdata[i]);
    return settled;
}

static bool store_job(Job *job, void *context)
{
    Errand *errand = context;
    const Taking *taking = &errand->taking;
    bool settled = settle_receipts(job, taking);

    for (guint i = 0; !settled && i < taking->items->len; i++)
        errand->fresh +=
            reply_store(job, taking->gateway, taking->channel, taking->items->pdata[i]);
    if (taking->cursor != NULL) {
        g_autoptr(Row) row = row_new(TABLE_CURSOR);
        row_set_text(row, CURSOR_GATEWAY,
                     taking->cursor_of != NULL ? taking->cursor_of : taking->gateway);
        row_set_text(row, CURSOR_VALUE, taking->cursor);
        tx_put(job->tx, row);
    }
    return true;
}

static void store_done(StoreStatus status, void *context)
{
    Errand *errand = context;
    Taking *taking = &errand->taking;

    if (status == STORE_OK && taking->items->len > 0) take_in_read(errand->desk);
    errand->taken(status, errand->fresh, errand->context);
    g_ptr_array_unref(taking->items);
    if (taking->receipts != NULL) g_ptr_array_unref(taking->receipts);
    g_free((char *)taking->gateway);
    g_free((char *)taking->cursor);
    g_free((char *)taking->cursor_of);
    g_free(errand);
}

void take_in(Desk *desk, const Taking *taking, TakenIn *taken, void *context)
{
    Errand *errand = g_new0(Errand, 1);

    *errand = (Errand){.desk = desk, .taking = *taking, .taken = taken, .context = context};
    errand->taking.gateway = g_strdup(taking->gateway);
    errand->taking.cursor = g_strdup(taking->cursor);
    errand->taking.cursor_of = g_strdup(taking->cursor_of);
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
