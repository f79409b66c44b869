/* SPDX-License-Identifier: Apache-2.0 */
/* Another replica's events are taken in by the hundred, and rows are written back together: whoever looks in between sees what was
 * written, and what is undone leaves nothing. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "core/ledger/chain.h"
#include "tests/support/store_bench.h"
#include "tests/support/store_cases.h"

#define OTHER "00000000000000ee"
/* More rows than are held at once. */
#define SESSIONS 1100

/* What another replica wrote: each session is asked, settled, reported on; and its reply. */
typedef struct {
    GPtrArray *events; /* of Event, along its chain */
    int from, to;      /* to be taken in */
    bool looks;        /* in between */
    bool undone;
    char *dump;
} Taken;

static void add(GPtrArray *events, const char *kind, const char *subject, json_t *body)
{
    Event *event = event_new();
    const Event *last = events->len > 0 ? events->pdata[events->len - 1] : NULL;

    event->replica = g_strdup(OTHER);
    event->seq = events->len + 1;
    event->wall = BENCH_MORNING + event->seq;
    event->kind = g_strdup(kind);
    event->subject = g_strdup(subject);
    event->author = g_strdup("osier");
    event->body = json_dumps(body, JSON_COMPACT | JSON_SORT_KEYS);
    memset(event->salt, 7, SALT_BYTES);
    chain_seal(event, last != NULL ? last->digest : NULL);
    json_decref(body);
    g_ptr_array_add(events, event);
}

static void add_session(GPtrArray *events, int i)
{
    g_autofree char *client = g_strdup_printf("C%d", i % 7);
    g_autofree char *id = g_strdup_printf("%032x", i * 7919 % SESSIONS);
    json_int_t at = BENCH_MORNING + i;

    add(events, "session.asked", client,
        json_pack("{s:s, s:s, s:i, s:s, s:I}", "session", id, "date", "2026-03-02", "slot", 1,
                  "message", id, "at", at));
    add(events, "message.settled", client,
        json_pack("{s:s, s:s, s:s, s:s, s:I}", "message", id, "kind", "reminder", "session", id,
                  "fate", i % 3 == 0 ? "failed" : "accepted", "at", at));
    add(events, "reply.received", id, json_pack("{s:s, s:I}", "text", "did them", "at", at));
    add(events, "report.made", client,
        json_pack("{s:s, s:I, s:s}", "session", id, "at", at, "done", i % 2 == 0 ? "yes" : "no"));
}

static Taken history(int sessions)
{
    Taken taken = {.events = g_ptr_array_new_with_free_func((GDestroyNotify)event_free)};

    for (int i = 0; i < sessions; i++)
        add_session(taken.events, i);
    return taken;
}

/* A session's state by its key, and how many rows tell the same by a condition. */
static void look(Tx *tx, const Event *event)
{
    json_t *body = json_loads(event->body, 0, NULL);
    const char *id = json_string_value(json_object_get(body, "session"));
    g_autoptr(Row) session = id != NULL ? tx_get_text(tx, TABLE_SESSION, id) : NULL;

    if (session != NULL) {
        g_autoptr(GPtrArray) same = tx_rows(tx, TABLE_SESSION, "id = ?1 AND state = ?2", "tt", id,
                                            row_text(session, SESSION_STATE));
        assert_int_equal(same->len, 1);
    }
    json_decref(body);
}

static bool take_job(Tx *tx, void *context)
{
    Taken *taken = context;

    for (int i = taken->from; i < taken->to; i++) {
        const Event *event = taken->events->pdata[i];
        assert_int_equal(tx_accept(tx, event), ACCEPT_NEW);
        if (taken->looks && i % 97 < 5) look(tx, event);
    }
    return !taken->undone;
}

static bool dump_job(Tx *tx, void *context)
{
    ((Taken *)context)->dump = tx_dump(tx);
    return true;
}

static char *dump_of(Bench *bench)
{
    Taken looked = {0};

    assert_int_equal(bench_do(bench, dump_job, &looked), STORE_OK);
    return looked.dump;
}

static void take(Bench *bench, Taken *taken, guint from, guint to)
{
    taken->from = (int)from;
    taken->to = (int)to;
    assert_int_equal(bench_do(bench, take_job, taken), taken->undone ? STORE_UNDONE : STORE_OK);
}

/* What the events give where each is taken in by a job of its own. */
static char *one_by_one(Taken *taken)
{
    Bench *bench = bench_open(BENCH_MEMORY);

    for (guint i = 0; i < taken->events->len; i++)
        take(bench, taken, i, i + 1);
    char *dump = dump_of(bench);
    bench_close(bench);
    return dump;
}

static void together_they_give_what_they_give_one_by_one(void **state)
{
    Taken taken = history(SESSIONS);
    Bench *bench = bench_open(bench_sort(state));

    take(bench, &taken, 0, taken.events->len);
    g_autofree char *together = dump_of(bench), *apart = one_by_one(&taken);
    assert_string_equal(together, apart);
    bench_close(bench);
    g_ptr_array_unref(taken.events);
}

static void who_looks_in_between_sees_what_was_taken_in(void **state)
{
    Taken taken = history(SESSIONS / 4);
    Bench *bench = bench_open(bench_sort(state));
    guint third = taken.events->len / 3;

    taken.looks = true;
    take(bench, &taken, 0, third);
    take(bench, &taken, third, taken.events->len);
    taken.looks = false;
    g_autofree char *together = dump_of(bench), *apart = one_by_one(&taken);
    assert_string_equal(together, apart);
    bench_close(bench);
    g_ptr_array_unref(taken.events);
}

static void what_is_undone_is_taken_in_again(void **state)
{
    Taken taken = history(SESSIONS / 8);
    Bench *bench = bench_open(bench_sort(state));
    guint third = taken.events->len / 3;

    take(bench, &taken, 0, third);
    g_autofree char *before = dump_of(bench);
    taken.undone = true;
    take(bench, &taken, third, 2 * third);
    g_autofree char *after = dump_of(bench);
    assert_string_equal(after, before);
    taken.undone = false;
    take(bench, &taken, third, taken.events->len);
    g_autofree char *together = dump_of(bench), *apart = one_by_one(&taken);
    assert_string_equal(together, apart);
    bench_close(bench);
    g_ptr_array_unref(taken.events);
}

static bool erase_in_between(Tx *tx, void *context)
{
    Taken *taken = context;
    guint half = taken->events->len / 2;

    for (guint i = 0; i < taken->events->len; i++) {
        if (i == half)
            tx_append(tx, "client.erase", "C3", "R. Okafor", NULL,
                      json_pack("{s:[s]}", "also", "00000000000000000000000000000000"));
        assert_int_equal(tx_accept(tx, taken->events->pdata[i]), ACCEPT_NEW);
    }
    return true;
}

static bool count_words(Tx *tx, void *context)
{
    g_autoptr(GPtrArray) sessions = tx_rows(tx, TABLE_SESSION, "client = 'C3'", "");
    g_autoptr(GPtrArray) messages = tx_rows(tx, TABLE_MESSAGE, "client = 'C3'", "");
    g_autoptr(GPtrArray) reports = tx_rows(tx, TABLE_REPORT, "client = 'C3'", "");

    *(guint *)context = sessions->len + messages->len + reports->len;
    return true;
}

/* What is held of a client when somebody says that the client is erased goes as well. */
static void who_is_erased_in_between_leaves_nothing(void **state)
{
    Taken taken = history(SESSIONS / 8);
    Bench *bench = bench_open(bench_sort(state));
    guint left = 1;

    assert_int_equal(bench_do(bench, erase_in_between, &taken), STORE_OK);
    assert_int_equal(bench_do(bench, count_words, &left), STORE_OK);
    assert_int_equal(left, 0);
    bench_close(bench);
    g_ptr_array_unref(taken.events);
}

int main(void)
{
    static const BenchCase CASES[] = {
        {"together_they_give_what_they_give_one_by_one",
         together_they_give_what_they_give_one_by_one},
        {"who_looks_in_between_sees_what_was_taken_in",
         who_looks_in_between_sees_what_was_taken_in},
        {"what_is_undone_is_taken_in_again", what_is_undone_is_taken_in_again},
        {"who_is_erased_in_between_leaves_nothing", who_is_erased_in_between_leaves_nothing},
    };

    return bench_cases(CASES, G_N_ELEMENTS(CASES));
}
