/* SPDX-License-Identifier: Apache-2.0 */
/* `osier check` proves by sums that the tables hold what the events give, subject by subject. Whatever two replicas have lived
 * through, it is proven where events name what is their own; where they do not, a sound store is sound all the same. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <fcntl.h>
#include <sys/wait.h>
#include <unistd.h>

#include "adapters/store/engine.h"
#include "adapters/store/prove.h"
#include "adapters/store/read.h"
#include "tests/support/two_replicas.h"

#define MANY 10200 /* more rows of one subject than are held in memory */

static void expect_sound(const Bench *bench, guint32 seed)
{
    g_autoptr(GPtrArray) findings = bench_check(bench);

    if (findings->len > 0) fail_msg("seed %u: %s", seed, (char *)findings->pdata[0]);
}

static void keep_number(const TxResult *result, void *context)
{
    *(int64_t *)context = result->integer[0];
}

/* By two connections where tx can have a second one. */
static bool is_proven(Tx *tx)
{
    int64_t events = 0;
    Proof *proof = prove_begin(tx);

    tx_select(tx, "SELECT count(*) FROM event", keep_number, &events, "");
    assert_false(prove_tables(proof, events - 1));
    prove_end(proof);
    proof = prove_begin(tx);
    bool proven = prove_tables(proof, events);
    prove_end(proof);
    return proven;
}

static bool prove_job(Tx *tx, void *proven)
{
    *(bool *)proven = is_proven(tx);
    return true;
}

static void what_two_replicas_lived_through_is_proven(void **state)
{
    (void)state;
    for (guint32 seed = 1; seed <= 12; seed++) {
        TwoReplicas two = two_replicas_new(seed, true);
        g_autofree char *why = NULL;
        bool proven = false;
        Tx *tx = NULL;

        two_replicas_live(&two);
        expect_sound(two.bench, seed);
        assert_int_equal(store_read_open(two.bench->path, &tx, &why), OPEN_OK);
        if (!is_proven(tx)) fail_msg("seed %u: not by two connections", seed);
        assert_null(store_read_close(tx));
        bench_reopen(two.bench);
        /* its log is not empty in a job that has written */
        assert_int_equal(bench_do(two.bench, prove_job, &proven), STORE_OK);
        if (!proven) fail_msg("seed %u: not by one connection", seed);
        two_replicas_free(&two);
    }
}

static void a_history_that_cannot_be_proven_is_sound_all_the_same(void **state)
{
    (void)state;
    for (guint32 seed = 1; seed <= 12; seed++) {
        TwoReplicas two = two_replicas_new(seed, false);

        two_replicas_live(&two);
        expect_sound(two.bench, seed);
        two_replicas_free(&two);
    }
}

static bool ask_and_fail(Tx *tx, void *context)
{
    (void)context;
    tx_append(tx, "session.asked", "C1", "osier", NULL,
              json_pack("{s:s, s:s, s:i}", "session", "S1", "message", "M1", "at", 1));
    tx_append(tx, "message.settled", "C2", "osier", NULL,
              json_pack("{s:s, s:s, s:s, s:s, s:i}", "message", "M1", "session", "S1", "kind",
                        "reminder", "fate", "failed", "at", 1));
    return true;
}

static bool spare(Tx *tx, void *context)
{
    (void)context;
    assert_int_equal(
        tx_change(tx, "UPDATE session SET failed = 0, state = 'asked' WHERE failed = 1", ""), 1);
    return true;
}

/* Each client's events alone give the tables as they were tampered with. */
static void a_row_that_one_client_has_of_another_is_not_taken_for_its_own(void **state)
{
    Bench *bench = bench_open(BENCH_SQLITE);

    (void)state;
    assert_int_equal(bench_do(bench, ask_and_fail, NULL), STORE_OK);
    bench_shut(bench);
    expect_sound(bench, 0);
    bench_reopen(bench);
    assert_int_equal(bench_do(bench, spare, NULL), STORE_OK);
    bench_shut(bench);
    g_autoptr(GPtrArray) findings = bench_check(bench);
    assert_int_equal(findings->len, 1);
    assert_string_equal(findings->pdata[0], "table session: S1: differs from what the events give");
    bench_close(bench);
}

static bool send_many(Tx *tx, void *context)
{
    (void)context;
    for (int i = 0; i < MANY + MANY / 4; i++) {
        json_t *id = json_sprintf("M%d", i % MANY);
        tx_append(tx, "message.settled", "clinic", "osier", NULL,
                  json_pack("{s:o, s:s, s:s, s:i}", "message", id, "kind", "alert", "fate",
                            i < MANY ? "accepted" : "delivered", "at", i % MANY));
    }
    return true;
}

static void a_subject_of_more_rows_than_are_held_is_proven(void **state)
{
    Bench *bench = bench_open(BENCH_MEMORY);
    bool proven = false;

    (void)state;
    assert_int_equal(bench_do(bench, send_many, NULL), STORE_OK);
    assert_int_equal(bench_do(bench, prove_job, &proven), STORE_OK);
    assert_true(proven);
    bench_close(bench);
}

static void a_store_on_a_server_is_proven(void **state)
{
    Bench *bench = bench_open(BENCH_POSTGRES);
    TwoReplicas two = {.random = g_rand_new_with_seed(3), .apart = true};
    bool proven = false;

    (void)state;
    for (int i = 0; i < TWO_REPLICAS_CLIENTS; i++)
        two.bars[i] = g_ptr_array_new_with_free_func(g_free);
    for (int i = 0; i < 20; i++)
        assert_int_equal(bench_do(bench, two_replicas_write, &two), STORE_OK);
    assert_int_equal(bench_do(bench, prove_job, &proven), STORE_OK);
    assert_true(proven);
    for (int i = 0; i < TWO_REPLICAS_CLIENTS; i++)
        g_ptr_array_unref(two.bars[i]);
    g_rand_free(two.random);
    bench_close(bench);
}

/* --- the lock ---------------------------------------------------------------------------------------- */

/* Another process, which would have to wait. */
static bool is_held(const char *path)
{
    int status = 0;
    pid_t child = fork();

    if (child == 0) {
        struct flock lock = {.l_type = F_WRLCK, .l_whence = SEEK_SET};
        int file = open(path, O_RDWR | O_CLOEXEC);
        int got = fcntl(file, F_GETLK, &lock);
        _exit(file >= 0 && got == 0 && lock.l_type != F_UNLCK ? 0 : 1);
    }
    assert_int_equal(waitpid(child, &status, 0), child);
    return status == 0;
}

static void the_store_is_held_as_before_once_the_second_connection_is_closed(void **state)
{
    Bench *bench = bench_open(BENCH_SQLITE);
    g_autofree char *why = NULL;
    Tx *tx = NULL;

    (void)state;
    bench_shut(bench);
    assert_false(is_held(bench->path));
    assert_int_equal(store_read_open(bench->path, &tx, &why), OPEN_OK);
    Driver *second = tx->driver->calls->twin(tx->driver);
    assert_non_null(second);
    Tx *twin = engine_new(second);
    int64_t events = 0;
    tx_select(twin, "SELECT count(*) FROM event", keep_number, &events, "");
    assert_int_equal(events, 1);
    engine_free(twin);
    assert_true(is_held(bench->path));
    assert_null(store_read_close(tx));
    bench_close(bench);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_two_replicas_lived_through_is_proven),
        cmocka_unit_test(a_history_that_cannot_be_proven_is_sound_all_the_same),
        cmocka_unit_test(a_row_that_one_client_has_of_another_is_not_taken_for_its_own),
        cmocka_unit_test(a_subject_of_more_rows_than_are_held_is_proven),
        cmocka_unit_test(a_store_on_a_server_is_proven),
        cmocka_unit_test(the_store_is_held_as_before_once_the_second_connection_is_closed),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
