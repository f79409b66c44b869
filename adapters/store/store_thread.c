/* SPDX-License-Identifier: Apache-2.0 */
/* The store thread. The loop submits jobs into a queue; the thread takes all that has queued up,
 * runs it as one transaction and hands the results back; the loop then calls back in the order of
 * submission. */
#include "adapters/store/store_thread.h"

#include <unistd.h>

/* Bounds what one commit can hold up or undo. */
#define BATCH_MAX 1024
#define CLOSES "given up: the store closes"
/* 256 kB of a copy at a time, so that jobs do not wait long for it. */
#define COPY_PAGES 64

typedef struct {
    Store store;
    const Keeper *keeper;
    Tx *tx;     /* the thread's, while it runs */
    Copy *copy; /* the thread's: of the first order, once begun */
    uv_thread_t loop_thread;
    uv_thread_t thread;
    uv_async_t finished_async;
    int pending; /* the loop's */
    char *problem;

    uv_mutex_t mutex; /* guards what follows */
    uv_cond_t wake;
    GQueue queue;    /* of Job, submitted */
    GQueue finished; /* of Job, run */
    GQueue orders;   /* of CopyOrder, the first may be under way */
    GQueue copied;   /* of CopyOrder, ended */
    bool closing;
    char *latest_problem;
} Disk;

/* Takes what has queued up, NULL where nothing has. The mutex is held. */
static GPtrArray *take_batch(Disk *disk)
{
    GPtrArray *batch = disk->queue.length > 0 ? g_ptr_array_new() : NULL;

    while (batch != NULL && disk->queue.length > 0 && batch->len < BATCH_MAX)
        g_ptr_array_add(batch, g_queue_pop_head(&disk->queue));
    return batch;
}

/* Waits for work: a batch, an order for a copy, or both. False once the store closes and no job is left. */
static bool wait_for_work(Disk *disk, GPtrArray **batch, CopyOrder **order)
{
    uv_mutex_lock(&disk->mutex);
    while (disk->queue.length == 0 && disk->orders.length == 0 && !disk->closing)
        uv_cond_wait(&disk->wake, &disk->mutex);
    *batch = take_batch(disk);
    *order = disk->closing ? NULL : g_queue_peek_head(&disk->orders);
    uv_mutex_unlock(&disk->mutex);
    return *batch != NULL || *order != NULL;
}

static void hand_back(Disk *disk, GPtrArray *batch)
{
    uv_mutex_lock(&disk->mutex);
    for (guint i = 0; i < batch->len; i++)
        g_queue_push_tail(&disk->finished, batch->pdata[i]);
    if (disk->tx->bad != STORE_OK) {
        g_free(disk->latest_problem);
        disk->latest_problem = g_strdup(disk->tx->problem);
    }
    uv_mutex_unlock(&disk->mutex);
    uv_async_send(&disk->finished_async);
}

static void run_batch(Disk *disk, GPtrArray *batch)
{
    engine_run(disk->tx, batch);
    /* Before anybody hears of it: the log must not keep the words that the job took out. */
    if (disk->tx->clean && disk->tx->bad == STORE_OK && disk->keeper->clean != NULL)
        disk->keeper->clean(disk->tx);
    disk->tx->clean = false;
    hand_back(disk, batch);
    g_ptr_array_unref(batch);
    if (disk->keeper->after != NULL && !disk->tx->failed) disk->keeper->after(disk->tx);
}

static void end_order(Disk *disk, char *problem)
{
    uv_mutex_lock(&disk->mutex);
    CopyOrder *order = g_queue_pop_head(&disk->orders);
    order->problem = problem;
    g_queue_push_tail(&disk->copied, order);
    uv_mutex_unlock(&disk->mutex);
    uv_async_send(&disk->finished_async);
}

static void go_on_copying(Disk *disk, const CopyOrder *order)
{
    if (disk->copy == NULL) disk->copy = disk->keeper->copy(disk->tx, order->path);
    if (copy_step(disk->copy, COPY_PAGES)) return;
    end_order(disk, copy_end(g_steal_pointer(&disk->copy)));
}

/* The store closes: what is not whole by now is given up. */
static void give_up_orders(Disk *disk)
{
    if (disk->copy != NULL) {
        g_autofree char *path = g_strdup(((CopyOrder *)g_queue_peek_head(&disk->orders))->path);
        g_free(copy_end(g_steal_pointer(&disk->copy)));
        unlink(path);
    }
    while (disk->orders.length > 0)
        end_order(disk, g_strdup(CLOSES));
}

static void run_thread(void *context)
{
    Disk *disk = context;
    GPtrArray *batch;
    CopyOrder *order;

    while (wait_for_work(disk, &batch, &order)) {
        if (batch != NULL) run_batch(disk, batch);
        if (order != NULL) go_on_copying(disk, order);
    }
    give_up_orders(disk);
}

static void count(Disk *disk, int change)
{
    disk->pending += change;
    /* Only work under way keeps the loop running. */
    if (disk->pending > 0)
        uv_ref((uv_handle_t *)&disk->finished_async);
    else
        uv_unref((uv_handle_t *)&disk->finished_async);
}

static Job *next_finished(Disk *disk)
{
    uv_mutex_lock(&disk->mutex);
    Job *job = g_queue_pop_head(&disk->finished);
    if (disk->latest_problem != NULL) {
        g_free(disk->problem);
        disk->problem = g_steal_pointer(&disk->latest_problem);
    }
    uv_mutex_unlock(&disk->mutex);
    return job;
}

static void deliver_copies(Disk *disk)
{
    CopyOrder *order;

    do {
        uv_mutex_lock(&disk->mutex);
        order = g_queue_pop_head(&disk->copied);
        uv_mutex_unlock(&disk->mutex);
        if (order == NULL) return;
        order->copied(order->problem, order->context);
        copy_order_free(order);
        count(disk, -1);
    } while (true);
}

static void deliver(Disk *disk)
{
    Job *job;

    while ((job = next_finished(disk)) != NULL) {
        if (job->done != NULL) job->done(job->status, job->context);
        g_free(job);
        count(disk, -1);
    }
    deliver_copies(disk);
}

static void on_finished(uv_async_t *async)
{
    deliver(async->data);
}

static bool on_loop(const Disk *disk)
{
    uv_thread_t self = uv_thread_self();

    return uv_thread_equal(&self, &disk->loop_thread) != 0;
}

static void queue(Disk *disk, Job job)
{
    Job *queued = g_new(Job, 1);

    g_assert(on_loop(disk));
    *queued = job;
    count(disk, 1);
    uv_mutex_lock(&disk->mutex);
    g_queue_push_tail(&disk->queue, queued);
    uv_cond_signal(&disk->wake);
    uv_mutex_unlock(&disk->mutex);
}

static void submit(Store *store, int64_t now_ms, StoreJob *job, StoreDone *done, void *context)
{
    queue((Disk *)store, (Job){.now = now_ms, .job = job, .done = done, .context = context});
}

static void read_only(Store *store, int64_t now_ms, StoreJob *job, StoreDone *done, void *context)
{
    queue((Disk *)store,
          (Job){.now = now_ms, .job = job, .done = done, .context = context, .reads = true});
}

static void copy(Store *store, const char *path, StoreCopied *copied, void *context)
{
    Disk *disk = (Disk *)store;

    g_assert(on_loop(disk));
    if (disk->closing) { /* asked for by the callback of a job that closing has run */
        copied(CLOSES, context);
        return;
    }
    CopyOrder *order = g_new0(CopyOrder, 1);
    *order = (CopyOrder){.path = g_strdup(path), .copied = copied, .context = context};
    count(disk, 1);
    uv_mutex_lock(&disk->mutex);
    g_queue_push_tail(&disk->orders, order);
    uv_cond_signal(&disk->wake);
    uv_mutex_unlock(&disk->mutex);
}

static int pending(const Store *store)
{
    return ((const Disk *)store)->pending;
}

static const char *problem(const Store *store)
{
    return ((const Disk *)store)->problem;
}

static void free_disk(uv_handle_t *handle)
{
    Disk *disk = handle->data;

    uv_cond_destroy(&disk->wake);
    uv_mutex_destroy(&disk->mutex);
    g_free(disk->problem);
    g_free(disk->latest_problem);
    g_free(disk);
}

/* What callbacks still submit while the store closes is run here: the thread has ended. */
static void run_rest(Disk *disk)
{
    GPtrArray *batch;

    deliver(disk);
    while ((batch = take_batch(disk)) != NULL) { /* nobody else is there to want the mutex */
        run_batch(disk, batch);
        deliver(disk);
    }
}

/* The queue is run to its end and every callback comes before this returns; the memory goes with
 * the loop's next turn. */
static void close_store(Store *store)
{
    Disk *disk = (Disk *)store;

    g_assert(on_loop(disk) && !disk->closing);
    uv_mutex_lock(&disk->mutex);
    disk->closing = true;
    uv_cond_signal(&disk->wake);
    uv_mutex_unlock(&disk->mutex);
    uv_thread_join(&disk->thread);
    run_rest(disk);
    disk->keeper->close(disk->tx);
    uv_close((uv_handle_t *)&disk->finished_async, free_disk);
}

Store *store_thread_new(uv_loop_t *loop, Tx *tx, const Keeper *keeper)
{
    Disk *disk = g_new0(Disk, 1);

    disk->store = (Store){.submit = submit,
                          .read = read_only,
                          .copy = copy,
                          .pending = pending,
                          .close = close_store,
                          .problem = problem};
    disk->keeper = keeper;
    disk->tx = tx;
    disk->loop_thread = uv_thread_self();
    g_queue_init(&disk->queue);
    g_queue_init(&disk->finished);
    g_queue_init(&disk->orders);
    g_queue_init(&disk->copied);
    bool ready = uv_mutex_init(&disk->mutex) == 0 && uv_cond_init(&disk->wake) == 0 &&
                 uv_async_init(loop, &disk->finished_async, on_finished) == 0;
    disk->finished_async.data = disk;
    if (!ready || uv_thread_create(&disk->thread, run_thread, disk) != 0)
        g_error("store: no thread can be started");
    uv_unref((uv_handle_t *)&disk->finished_async);
    return &disk->store;
}
