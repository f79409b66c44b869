/* SPDX-License-Identifier: Apache-2.0 */
/* A snapshot that is torn, changed, of another chain, or of a time to come is refused whole, and nothing is another than before. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <glib/gstdio.h>
#include <string.h>

#include "adapters/store/snapshot_part.h"
#include "tests/support/snapshot_world.h"

static void must_be_refused(SnapshotWorld *world, const char *bytes, size_t length, size_t at)
{
    const char *why = NULL;

    assert_true(g_file_set_contents(world->file, bytes, (gssize)length, NULL));
    SnapshotLook *look = snapshot_look_over(world->file, world->now, &why);
    if (look != NULL) fail_msg("torn at %zu of %zu, and taken", at, length);
    assert_non_null(why);
}

static void a_torn_one_is_refused(void **state)
{
    g_autofree char *folder = bench_folder(), *bytes = NULL, *before = NULL, *after = NULL;
    SnapshotWorld *world = snapshot_world_written(folder);
    gsize length;

    (void)state;
    before = snapshot_dump(world, SNAPSHOT_FRESH);
    snapshot_make_of(world, 0);
    assert_true(g_file_get_contents(world->file, &bytes, &length, NULL));
    for (gsize i = 0; i < length; i++) {
        bytes[i] = (char)~bytes[i];
        must_be_refused(world, bytes, length, i);
        bytes[i] = (char)~bytes[i];
    }
    for (gsize i = 0; i < length; i++)
        must_be_refused(world, bytes, i, i);
    g_autofree char *longer = g_malloc0(length + 1);
    memcpy(longer, bytes, length);
    must_be_refused(world, longer, length + 1, length);
    after = snapshot_dump(world, SNAPSHOT_FRESH);
    assert_string_equal(before, after);
    snapshot_world_free(world);
    bench_remove(folder);
}

/* The file is another when it is read again: the job is undone, and what was here stays. */
static void one_that_changed_since_it_was_looked_at_is_undone(void **state)
{
    g_autofree char *folder = bench_folder(), *bytes = NULL, *before = NULL, *after = NULL;
    SnapshotWorld *world = snapshot_world_written(folder);
    const char *why = NULL;
    gsize length;

    (void)state;
    snapshot_make_of(world, 0);
    snapshot_run(world, SNAPSHOT_FRESH, snapshot_write, world);
    before = snapshot_dump(world, SNAPSHOT_FRESH);
    g_autoptr(SnapshotLook) look = snapshot_look_over(world->file, world->now, &why);
    SnapshotTaking again = {.world = world, .look = look};
    assert_non_null(look);
    assert_true(g_file_get_contents(world->file, &bytes, &length, NULL));
    for (gsize cut = 1; cut < length; cut += 37) {
        assert_true(g_file_set_contents(world->file, bytes, (gssize)(length - cut), NULL));
        assert_int_equal(snapshot_run(world, SNAPSHOT_FRESH, snapshot_take_job, &again),
                         STORE_UNDONE);
        assert_non_null(again.why);
    }
    after = snapshot_dump(world, SNAPSHOT_FRESH);
    assert_string_equal(before, after);
    assert_true(g_file_set_contents(world->file, bytes, (gssize)length, NULL));
    assert_int_equal(snapshot_run(world, SNAPSHOT_FRESH, snapshot_take_job, &again), STORE_OK);
    snapshot_world_free(world);
    bench_remove(folder);
}

/* Two stores with one id, each with entries of its own under the same numbers. */
static void another_chain_under_the_same_id_is_not_taken(void **state)
{
    g_autofree char *folder = bench_folder(), *before = NULL, *after = NULL;
    SnapshotWorld *world = snapshot_world_written(folder);

    (void)state;
    snapshot_make_of(world, 0);
    Store *twin = store_memory_new("00000000000000aa", BENCH_MORNING + 1);
    Store *own = world->store[SNAPSHOT_FRESH];
    world->store[SNAPSHOT_FRESH] = twin;
    before = snapshot_dump(world, SNAPSHOT_FRESH);
    assert_non_null(snapshot_take_at(world, SNAPSHOT_FRESH));
    after = snapshot_dump(world, SNAPSHOT_FRESH);
    assert_string_equal(before, after);
    twin->close(twin);
    world->store[SNAPSHOT_FRESH] = own;
    snapshot_world_free(world);
    bench_remove(folder);
}

static void a_stamp_of_a_time_to_come_is_refused(void **state)
{
    g_autofree char *folder = bench_folder();
    SnapshotWorld *world = snapshot_world_new(6, folder);

    (void)state;
    world->ahead[0] = SNAPSHOT_DAY;
    snapshot_run(world, 0, snapshot_write, world);
    snapshot_make_of(world, 0);
    const char *why = snapshot_take_at(world, SNAPSHOT_FRESH);
    assert_non_null(why);
    assert_non_null(strstr(why, "a time to come"));
    snapshot_heal(world);
    snapshot_must_agree(world);
    snapshot_world_free(world);
    bench_remove(folder);
}

/* The file that was made, with one more row, so many times. */
static void add_row(SnapshotWorld *world, TableId table, const Cell *cells, int count, int times)
{
    g_autofree char *before = g_strconcat(world->file, ".before", NULL);
    Cell row[SNAPSHOT_COLUMNS_MAX];
    uint8_t digest[HASH_BYTES];
    SnapshotOut out;
    SnapshotIn in;
    TableId of;

    assert_int_equal(g_rename(world->file, before), 0);
    snapshot_out_begin(&out, world->file, snapshot_in_begin(&in, before));
    while (snapshot_in_row(&in, &of, row))
        snapshot_out_row(&out, of, row,
                         of == TABLE_COUNT ? SNAPSHOT_EVENT_COLUMNS : table_of(of)->columns);
    assert_false(in.broken);
    snapshot_in_end(&in);
    for (int i = 0; i < times; i++)
        snapshot_out_row(&out, table, cells, count);
    assert_null(snapshot_out_end(&out, digest));
    g_unlink(before);
}

static bool is_taken_with(SnapshotWorld *world, TableId table, const Cell *cells, int count)
{
    const char *why = NULL;

    snapshot_make_of(world, 0);
    add_row(world, table, cells, count, 1);
    g_autoptr(SnapshotLook) look = snapshot_look_over(world->file, world->now, &why);
    return look != NULL;
}

/* Rows of tables that are nobody else's, of a wrong type, without their key, or of no number. */
static void a_row_that_may_not_be_is_refused(void **state)
{
    const Cell week = {.kind = CELL_TEXT, .text = "2026-W09", .length = 8},
               at = {.kind = CELL_INTEGER, .integer = 1}, none = {.kind = CELL_NULL},
               no_text = {.kind = CELL_TEXT, .text = "\xff", .length = 1},
               cut = {.kind = CELL_TEXT, .text = "a\0b", .length = 3},
               real = {.kind = CELL_REAL, .real = 1};
    g_autofree char *folder = bench_folder();
    SnapshotWorld *world = snapshot_world_written(folder);

    (void)state;
    assert_true(is_taken_with(world, TABLE_DIGEST, (Cell[]){week, at}, 2));
    assert_true(is_taken_with(world, TABLE_DIGEST, (Cell[]){week, none}, 2));
    assert_false(is_taken_with(world, TABLE_META, (Cell[]){week, week}, 2));
    assert_false(is_taken_with(world, TABLE_CURSOR, (Cell[]){week, week}, 2));
    assert_false(is_taken_with(world, TABLE_DIGEST, (Cell[]){none, at}, 2));
    assert_false(is_taken_with(world, TABLE_DIGEST, (Cell[]){week, week}, 2));
    assert_false(is_taken_with(world, TABLE_DIGEST, (Cell[]){week, real}, 2));
    assert_false(is_taken_with(world, TABLE_DIGEST, (Cell[]){no_text, at}, 2));
    assert_false(is_taken_with(world, TABLE_DIGEST, (Cell[]){cut, at}, 2));
    assert_false(is_taken_with(world, TABLE_DIGEST, (Cell[]){week}, 1));
    snapshot_world_free(world);
    bench_remove(folder);
}

/* A long text, and after it rows that say "the same": a small file that fills any device. */
static void one_that_comes_to_far_more_than_its_size_is_refused(void **state)
{
    g_autofree char *folder = bench_folder(), *text = g_strnfill(200000, 'a');
    SnapshotWorld *world = snapshot_world_written(folder);
    const Cell row[] = {{.kind = CELL_TEXT, .text = text, .length = 200000},
                        {.kind = CELL_INTEGER, .integer = 1}};
    const char *why = NULL;

    (void)state;
    snapshot_make_of(world, 0);
    add_row(world, TABLE_DIGEST, row, 2, 2000);
    assert_null(snapshot_look_over(world->file, world->now, &why));
    assert_non_null(strstr(why, "far more"));
    snapshot_world_free(world);
    bench_remove(folder);
}

/* Its head names one replica twice, and another's chain comes in place of the second: what is here of that would go on top of
 * what is there already. */
static void one_that_names_a_replica_twice_is_refused(void **state)
{
    g_autofree char *folder = bench_folder();
    SnapshotWorld *world = snapshot_world_new(6, folder);
    g_autofree char *before = g_strconcat(world->file, ".before", NULL);
    g_autoptr(GByteArray) head = g_byte_array_new();
    Cell row[SNAPSHOT_COLUMNS_MAX];
    uint8_t digest[HASH_BYTES];
    const char *why = NULL;
    SnapshotOut out;
    SnapshotIn in;
    TableId of;

    (void)state;
    snapshot_carry(world, SNAPSHOT_FRESH, 0);
    snapshot_make_of(world, 0);
    assert_int_equal(g_rename(world->file, before), 0);
    SnapshotLook *told = snapshot_unpack_head(snapshot_in_begin(&in, before), &why);
    assert_int_equal(told->vector->len, 2);
    VectorEntry *entries = (VectorEntry *)(void *)told->vector->data;
    assert_int_equal(entries[0].seq, entries[1].seq);
    entries[1] = entries[0];
    snapshot_pack_head(head, told);
    snapshot_look_free(told);
    snapshot_out_begin(&out, world->file, head);
    while (snapshot_in_row(&in, &of, row))
        snapshot_out_row(&out, of, row,
                         of == TABLE_COUNT ? SNAPSHOT_EVENT_COLUMNS : table_of(of)->columns);
    snapshot_in_end(&in);
    assert_null(snapshot_out_end(&out, digest));
    g_unlink(before);
    assert_non_null(snapshot_take_at(world, SNAPSHOT_FRESH));
    snapshot_world_free(world);
    bench_remove(folder);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_torn_one_is_refused),
        cmocka_unit_test(one_that_changed_since_it_was_looked_at_is_undone),
        cmocka_unit_test(another_chain_under_the_same_id_is_not_taken),
        cmocka_unit_test(a_row_that_may_not_be_is_refused),
        cmocka_unit_test(one_that_comes_to_far_more_than_its_size_is_refused),
        cmocka_unit_test(one_that_names_a_replica_twice_is_refused),
        cmocka_unit_test(a_stamp_of_a_time_to_come_is_refused),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
