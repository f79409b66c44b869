/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/store/store_memory.h"

#include "adapters/store/copy.h"
#include "adapters/store/engine.h"
#include "adapters/store/lossy.h"
#include "adapters/store/sqlite.h"

typedef struct {
    Store store;
    Tx *tx;
    sqlite3 *db; /* the connection of tx */
    bool far;
    GQueue queue;  /* of Job */
    GQueue orders; /* of CopyOrder */
    int running;   /* jobs of a pump whose callbacks have not returned */
    int fail_count;
    StoreStatus fail_status;
    bool full; /* a job was refused already, so that it is known */
    char *problem;
} Memory;

static void queue(Store *store, Job job)
{
    Job *queued = g_new(Job, 1);

    *queued = job;
    g_queue_push_tail(&((Memory *)store)->queue, queued);
}

static void submit(Store *store, int64_t now_ms, StoreJob *job, StoreDone *done, void *context)
{
    queue(store, (Job){.now = now_ms, .job = job, .done = done, .context = context});
}

static void read_only(Store *store, int64_t now_ms, StoreJob *job, StoreDone *done, void *context)
{
    queue(store, (Job){.now = now_ms, .job = job, .done = done, .context = context, .reads = true});
}

static void copy(Store *store, const char *path, StoreCopied *copied, void *context)
{
    CopyOrder *order = g_new0(CopyOrder, 1);

    *order = (CopyOrder){.path = g_strdup(path), .copied = copied, .context = context};
    g_queue_push_tail(&((Memory *)store)->orders, order);
}

/* A pump's jobs come first, as they do where a thread copies between them. */
static int copy_ordered(Memory *memory)
{
    CopyOrder *order = g_queue_pop_head(&memory->orders);

    if (order == NULL) return 0;
    Copy *made = copy_begin(memory->db, order->path);
    while (copy_step(made, 64))
        ;
    g_autofree char *problem = copy_end(made);
    memory->running++;
    order->copied(problem, order->context);
    memory->running--;
    copy_order_free(order);
    return 1;
}

static int pending(const Store *store)
{
    const Memory *memory = (const Memory *)store;

    return (int)memory->queue.length + (int)memory->orders.length + memory->running;
}

static const char *problem(const Store *store)
{
    const Memory *memory = (const Memory *)store;

    return memory->problem != NULL ? memory->problem : memory->tx->problem;
}

static void discard(Memory *memory)
{
    engine_free(memory->tx);
    g_queue_clear_full(&memory->queue, g_free);
    g_queue_clear_full(&memory->orders, (GDestroyNotify)copy_order_free);
    g_free(memory->problem);
    g_free(memory);
}

static void close_store(Store *store)
{
    while (store_memory_pump(store) > 0)
        ;
    discard((Memory *)store);
}

static Memory *wrap(Tx *tx, sqlite3 *db, bool far)
{
    Memory *memory = g_new0(Memory, 1);

    memory->store = (Store){.submit = submit,
                            .read = read_only,
                            .copy = copy,
                            .pending = pending,
                            .close = close_store,
                            .problem = problem};
    memory->tx = tx;
    memory->db = db;
    memory->far = far;
    g_queue_init(&memory->queue);
    g_queue_init(&memory->orders);
    return memory;
}

static sqlite3 *open_memory(void)
{
    sqlite3 *db = NULL;

    if (sqlite3_open(":memory:", &db) != SQLITE_OK) g_error("store: no memory for a database");
    sqlite3_extended_result_codes(db, 1);
    return db;
}

static Tx *tx_on(sqlite3 *db, bool far)
{
    return engine_new(lossy_driver_new(sqlite_driver_new(db), far));
}

static Store *make(const char *replica, int64_t now_ms, bool far)
{
    sqlite3 *db = open_memory();
    Tx *tx = tx_on(db, far);

    if (!engine_birth(tx, replica, true, now_ms)) g_error("store: %s", tx->problem);
    return &wrap(tx, db, far)->store;
}

Store *store_memory_new(const char *replica, int64_t now_ms)
{
    return make(replica, now_ms, false);
}

Store *store_memory_far_new(const char *replica, int64_t now_ms)
{
    return make(replica, now_ms, true);
}

/* The ordered failure: as if the device had refused the commit. */
static void refuse(Memory *memory, GPtrArray *jobs)
{
    memory->fail_count--;
    for (guint i = 0; i < jobs->len; i++)
        ((Job *)jobs->pdata[i])->status = memory->fail_status;
    if (memory->fail_status == STORE_FAILED) memory->tx->failed = true;
    g_free(memory->problem);
    memory->problem =
        g_strdup(memory->fail_status == STORE_FULL   ? "no room left on the device of the store"
                 : memory->fail_status == STORE_AWAY ? "no database: it does not answer"
                                                     : "the store failed: a sync was refused");
    if (memory->fail_status == STORE_FULL && memory->full) engine_read(memory->tx, jobs);
    memory->full = true;
}

int store_memory_pump(Store *store)
{
    Memory *memory = (Memory *)store;
    g_autoptr(GPtrArray) jobs = g_ptr_array_new_with_free_func(g_free);
    Job *next;

    while ((next = g_queue_pop_head(&memory->queue)) != NULL)
        g_ptr_array_add(jobs, next);
    if (jobs->len == 0) return copy_ordered(memory);
    memory->running += (int)jobs->len;
    if (memory->fail_count > 0 && !memory->tx->failed)
        refuse(memory, jobs);
    else
        engine_run(memory->tx, jobs);
    memory->full = memory->full && memory->fail_count > 0;
    for (guint i = 0; i < jobs->len; i++) {
        Job *job = jobs->pdata[i];

        if (job->done != NULL) job->done(job->status, job->context);
        memory->running--;
    }
    return (int)jobs->len + copy_ordered(memory);
}

void store_memory_fail(Store *store, int count, StoreStatus status)
{
    Memory *memory = (Memory *)store;

    g_assert(store_passes(status) || status == STORE_FAILED);
    memory->fail_count = count;
    memory->fail_status = status;
}

void store_memory_lose(Store *store, int n)
{
    lossy_lose_at(((Memory *)store)->tx->driver, n);
}

bool store_memory_has_lost(const Store *store)
{
    return lossy_has_lost(((const Memory *)store)->tx->driver);
}

/* Outside a transaction the database is what the last commit left. */
Store *store_memory_crash(Store *store)
{
    Memory *memory = (Memory *)store;
    sqlite3_int64 size = 0;
    unsigned char *content = sqlite3_serialize(memory->db, "main", &size, 0);
    sqlite3 *db = open_memory();

    g_assert(content != NULL && sqlite3_get_autocommit(memory->db));
    if (sqlite3_deserialize(db, "main", content, size, size,
                            SQLITE_DESERIALIZE_FREEONCLOSE | SQLITE_DESERIALIZE_RESIZEABLE) !=
        SQLITE_OK)
        g_error("store: %s", sqlite3_errmsg(db));
    bool far = memory->far;
    int64_t now_ms = memory->tx->now;
    discard(memory);
    Tx *tx = tx_on(db, far);
    if (!engine_load(tx) || !engine_recall(tx, now_ms)) g_error("store: %s", tx->problem);
    return &wrap(tx, db, far)->store;
}

void store_memory_look(Store *store, StoreJob *job, void *context)
{
    Memory *memory = (Memory *)store;
    g_autoptr(GPtrArray) jobs = g_ptr_array_new_with_free_func(g_free);
    Job *look = g_new0(Job, 1);

    *look = (Job){.now = memory->tx->now, .job = job, .context = context};
    g_ptr_array_add(jobs, look);
    lossy_hold(memory->tx->driver, true);
    engine_run(memory->tx, jobs);
    lossy_hold(memory->tx->driver, false);
}
