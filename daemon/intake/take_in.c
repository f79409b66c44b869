/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/intake/take_in.h"

#include "daemon/jobs/reply.h"
#include "daemon/jobs/settle.h"

/* Read in one job, which holds up for so long what else is to be stored and acknowledged: less while there is any, */
#define PAGE 50
#define PAGE_WHILE_STORING 16
/* but no sign may lie unread behind more than these. */
#define BEHIND_MAX 500

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
    DeskTray *tray = desk_tray(errand->desk);

    tray->storing--;
    if (status == STORE_OK) tray->unread += errand->fresh;
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
    desk_tray(desk)->storing++;
    desk_submit(desk, store_job, store_done, errand);
}

typedef struct {
    Desk *desk;
    int page;
    int n;
} ReadErrand;

static bool read_job(Job *job, void *context)
{
    ReadErrand *errand = context;

    if (job->sender) errand->n = reply_read_stored(job, errand->page);
    return true;
}

/* What was stored later than this was submitted calls for a reading of its own. */
static void read_done(StoreStatus status, void *context)
{
    ReadErrand *errand = context;
    DeskTray *tray = desk_tray(errand->desk);
    bool more = errand->n == errand->page;

    tray->reading = false;
    if (status == STORE_OK) tray->unread = more ? MAX(tray->unread - errand->n, 0) : 0;
    if (status == STORE_OK && more) take_in_read(errand->desk);
    g_free(errand);
}

/* One reading at a time: jobs run and call back in the order of their submission, so what was stored before it is called back is
 * read by it, or by the page after it. */
void take_in_read(Desk *desk)
{
    DeskTray *tray = desk_tray(desk);

    if (tray->reading) return;
    tray->reading = true;
    ReadErrand *errand = g_new0(ReadErrand, 1);
    int page = tray->storing > 0 ? PAGE_WHILE_STORING : PAGE;
    *errand = (ReadErrand){.desk = desk, .page = MAX(page, tray->unread - BEHIND_MAX)};
    desk_submit(desk, read_job, read_done, errand);
}
