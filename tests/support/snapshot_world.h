/* SPDX-License-Identifier: Apache-2.0 */
/* Three replicas that work, with random histories, and a fourth that is new; and snapshots between them. On their stores' twins. */
#ifndef OSIER_TESTS_SUPPORT_SNAPSHOT_WORLD_H
#define OSIER_TESTS_SUPPORT_SNAPSHOT_WORLD_H

#include "adapters/store/snapshot.h"
#include "tests/support/store_bench.h"

#define SNAPSHOT_REPLICAS 4
#define SNAPSHOT_FRESH 3 /* the new one */
#define SNAPSHOT_DAY INT64_C(86400000)

typedef struct {
    Store *store[SNAPSHOT_REPLICAS];
    int64_t ahead[SNAPSHOT_REPLICAS]; /* of its clock */
    int64_t now;
    GRand *random;
    guint32 seed;
    const char *folder;
    char *copy, *file;
} SnapshotWorld;

SnapshotWorld *snapshot_world_new(guint32 seed, const char *folder);
/* The first has written a little. */
SnapshotWorld *snapshot_world_written(const char *folder);
void snapshot_world_free(SnapshotWorld *world);

int snapshot_draw(SnapshotWorld *world, int below);
StoreStatus snapshot_run(SnapshotWorld *world, int at, StoreJob *job, void *context);
/* A job, whose context is the world: a few random events. */
bool snapshot_write(Tx *tx, void *world);
/* All that the other lacks, event by event; and so until all have everything. */
void snapshot_carry(SnapshotWorld *world, int from, int to);
void snapshot_heal(SnapshotWorld *world);

/* world->file becomes a snapshot of that replica. */
SnapshotMade snapshot_make_of(SnapshotWorld *world, int at);

typedef struct {
    SnapshotWorld *world;
    const SnapshotLook *look;
    const char *why;
    int heard;
} SnapshotTaking;

/* A job: takes world->file, whose look is given. */
bool snapshot_take_job(Tx *tx, void *taking);
/* Looks it over and takes it: why not, or NULL. */
const char *snapshot_take_at(SnapshotWorld *world, int at);

/* The tables (g_free); a job that gives what the events give into a char *. */
char *snapshot_dump(SnapshotWorld *world, int at);
bool snapshot_rebuild_job(Tx *tx, void *dump);
void snapshot_must_be_equal(SnapshotWorld *world, const char *what, const char *one,
                            const char *other);
void snapshot_must_agree(SnapshotWorld *world);

#endif
