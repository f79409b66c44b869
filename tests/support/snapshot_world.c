/* SPDX-License-Identifier: Apache-2.0 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <glib/gstdio.h>
#include <string.h>

#include "tests/support/ledger_rebuild.h"
#include "tests/support/ledger_tables.h"
#include "tests/support/snapshot_world.h"

int snapshot_draw(SnapshotWorld *world, int below)
{
    return g_rand_int_range(world->random, 0, below);
}

typedef struct {
    StoreJob *job;
    void *context;
    StoreStatus status;
} Run;

static bool run_job(Tx *tx, void *context)
{
    Run *run = context;

    return run->job(tx, run->context);
}

static void run_done(StoreStatus status, void *context)
{
    ((Run *)context)->status = status;
}

StoreStatus snapshot_run(SnapshotWorld *world, int at, StoreJob *job, void *context)
{
    Run one = {.job = job, .context = context, .status = STORE_FAILED};

    store_submit(world->store[at], world->now + world->ahead[at], run_job, run_done, &one);
    while (store_memory_pump(world->store[at]) > 0)
        ;
    return one.status;
}

/* --- writing, and carrying event by event --- */

bool snapshot_write(Tx *tx, void *context)
{
    SnapshotWorld *world = context;

    for (int i = snapshot_draw(world, 4) + 1; i > 0; i--) {
        const char *kind;
        g_autofree char *subject = NULL;
        g_autofree char *body = ledger_draw(world->random, &kind, &subject);
        bool takes_words = strcmp(kind, "client.erase") == 0 || strcmp(kind, "redacted") == 0;

        if (takes_words && world->seed % 3 != 0) continue;
        tx_append(tx, kind, subject, "R. Okafor", NULL, json_loads(body, 0, NULL));
    }
    return true;
}

typedef struct {
    GArray *had;
    GPtrArray *events;
} Carry;

static bool look_job(Tx *tx, void *context)
{
    ((Carry *)context)->had = tx_vector(tx);
    return true;
}

static bool add_lacking(const Event *event, void *context)
{
    const Carry *carry = context;
    const VectorEntry *had = vector_find(carry->had, event->replica);

    if (had == NULL || had->seq < event->seq) g_ptr_array_add(carry->events, event_copy(event));
    return true;
}

static bool give_job(Tx *tx, void *context)
{
    tx_events(tx, "ORDER BY replica, seq", add_lacking, context, "");
    return true;
}

static bool take_job(Tx *tx, void *context)
{
    const Carry *carry = context;

    for (guint i = 0; i < carry->events->len; i++)
        assert_int_equal(tx_accept(tx, carry->events->pdata[i]), ACCEPT_NEW);
    return true;
}

void snapshot_carry(SnapshotWorld *world, int from, int to)
{
    Carry carry = {.events = g_ptr_array_new_with_free_func((GDestroyNotify)event_free)};

    snapshot_run(world, to, look_job, &carry);
    snapshot_run(world, from, give_job, &carry);
    assert_int_equal(snapshot_run(world, to, take_job, &carry), STORE_OK);
    g_array_unref(carry.had);
    g_ptr_array_unref(carry.events);
}

void snapshot_heal(SnapshotWorld *world)
{
    for (int round = 0; round < 3; round++)
        for (int i = 0; i < SNAPSHOT_REPLICAS; i++)
            for (int k = 0; k < SNAPSHOT_REPLICAS; k++)
                if (i != k) snapshot_carry(world, i, k);
}

/* --- a snapshot --- */

static void copied(const char *problem, void *context)
{
    (void)context;
    assert_null(problem);
}

SnapshotMade snapshot_make_of(SnapshotWorld *world, int at)
{
    SnapshotMade made;

    g_unlink(world->copy);
    g_unlink(world->file);
    world->store[at]->copy(world->store[at], world->copy, copied, NULL);
    while (store_memory_pump(world->store[at]) > 0)
        ;
    g_autofree char *problem = snapshot_make(world->copy, world->file, &made);
    assert_null(problem);
    return made;
}

static void count_heard(const Event *event, void *context)
{
    assert_non_null(event->kind);
    ((SnapshotTaking *)context)->heard++;
}

bool snapshot_take_job(Tx *tx, void *context)
{
    SnapshotTaking *take = context;

    take->why = snapshot_take(tx, take->world->file, take->look, count_heard, take);
    return take->why == NULL;
}

/* Why it was not taken, or NULL. */
const char *snapshot_take_at(SnapshotWorld *world, int at)
{
    const char *why = NULL;
    g_autoptr(SnapshotLook) look =
        snapshot_look_over(world->file, world->now + world->ahead[at], &why);
    SnapshotTaking taken = {.world = world, .look = look};

    if (look == NULL) return why;
    StoreStatus status = snapshot_run(world, at, snapshot_take_job, &taken);
    assert_int_equal(status, taken.why == NULL ? STORE_OK : STORE_UNDONE);
    return taken.why;
}

static bool dump_job(Tx *tx, void *context)
{
    *(char **)context = tx_dump(tx);
    return true;
}

bool snapshot_rebuild_job(Tx *tx, void *context)
{
    *(char **)context = ledger_rebuilt(tx);
    return true;
}

char *snapshot_dump(SnapshotWorld *world, int at)
{
    char *dump = NULL;

    snapshot_run(world, at, dump_job, &dump);
    return dump;
}

void snapshot_must_be_equal(SnapshotWorld *world, const char *what, const char *one,
                            const char *other)
{
    g_auto(GStrv) a = g_strsplit(one, "\n", -1), b = g_strsplit(other, "\n", -1);

    if (strcmp(one, other) == 0) return;
    for (int i = 0; a[i] != NULL && b[i] != NULL; i++)
        if (strcmp(a[i], b[i]) != 0)
            fail_msg("seed %u, %s:\n  %s\n  %s", world->seed, what, a[i], b[i]);
    fail_msg("seed %u, %s: one has more rows", world->seed, what);
}

void snapshot_must_agree(SnapshotWorld *world)
{
    g_autofree char *first = snapshot_dump(world, 0), *again = NULL;

    for (int i = 1; i < SNAPSHOT_REPLICAS; i++) {
        g_autofree char *dump = snapshot_dump(world, i);
        snapshot_must_be_equal(world, i == SNAPSHOT_FRESH ? "the new one" : "another", first, dump);
    }
    snapshot_run(world, SNAPSHOT_FRESH, snapshot_rebuild_job, &again);
    g_autofree char *sorted = ledger_sorted(first);
    snapshot_must_be_equal(world, "tables and a rebuild", sorted, again);
}

SnapshotWorld *snapshot_world_new(guint32 seed, const char *folder)
{
    SnapshotWorld *world = g_new0(SnapshotWorld, 1);

    *world = (SnapshotWorld){.now = BENCH_MORNING,
                             .seed = seed,
                             .random = g_rand_new_with_seed(seed),
                             .folder = folder,
                             .copy = g_build_filename(folder, "copy.db", NULL),
                             .file = g_build_filename(folder, "snapshot", NULL)};
    for (int i = 0; i < SNAPSHOT_REPLICAS; i++) {
        g_autofree char *id = g_strdup_printf("00000000000000%c%c", 'a' + i, 'a' + i);
        world->store[i] = store_memory_new(id, BENCH_MORNING);
    }
    return world;
}

void snapshot_world_free(SnapshotWorld *world)
{
    for (int i = 0; i < SNAPSHOT_REPLICAS; i++)
        world->store[i]->close(world->store[i]);
    g_rand_free(world->random);
    g_unlink(world->copy);
    g_unlink(world->file);
    g_free(world->copy);
    g_free(world->file);
    g_free(world);
}

SnapshotWorld *snapshot_world_written(const char *folder)
{
    SnapshotWorld *world = snapshot_world_new(6, folder);

    for (int i = 0; i < 6; i++)
        snapshot_run(world, 0, snapshot_write, world);
    return world;
}
