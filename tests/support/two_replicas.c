/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/support/two_replicas.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "tests/support/ledger_tables.h"

#define OTHER "00000000000000bb"
#define ROUNDS 20

static int draw(TwoReplicas *two, int below)
{
    return g_rand_int_range(two->random, 0, below);
}

static void make_own(json_t *body, const char *field, const char *client)
{
    const char *id = json_string_value(json_object_get(body, field));

    if (id != NULL) json_object_set_new(body, field, json_sprintf("%s of %s", id, client));
}

static void lift_own(TwoReplicas *two, json_t *body, const GPtrArray *bars)
{
    if (json_object_get(body, "ends") == NULL) return;
    json_object_set_new(body, "ends", json_array());
    if (bars->len > 0)
        json_array_append_new(json_object_get(body, "ends"),
                              json_string(bars->pdata[draw(two, (int)bars->len)]));
}

static void write_apart(TwoReplicas *two, Tx *tx, const char *kind, const char *subject,
                        json_t *body)
{
    GPtrArray *bars = *subject == 'C' ? two->bars[subject[1] - '1'] : NULL;

    if (bars != NULL) {
        make_own(body, "session", subject);
        make_own(body, "message", subject);
        lift_own(two, body, bars);
    }
    const char *id = tx_append(tx, kind, subject, "R. Okafor", NULL, body);
    if (bars != NULL) g_ptr_array_add(bars, g_strdup(id));
}

bool two_replicas_write(Tx *tx, void *context)
{
    TwoReplicas *two = context;

    for (int i = 10 + draw(two, 10); i > 0; i--) {
        const char *kind;
        g_autofree char *subject = NULL;
        g_autofree char *text = ledger_draw(two->random, &kind, &subject);
        bool rare = strcmp(kind, "client.erase") == 0 || strcmp(kind, "client.same_as") == 0;
        if (rare && draw(two, 20) > 0) continue;
        json_t *body = json_loads(text, 0, NULL);
        if (two->apart)
            write_apart(two, tx, kind, subject, body);
        else
            tx_append(tx, kind, subject, "R. Okafor", NULL, body);
    }
    return true;
}

static bool keep_event(const Event *event, void *context)
{
    g_ptr_array_add(context, event_copy(event));
    return true;
}

static bool give(Tx *tx, void *context)
{
    TwoReplicas *two = context;

    tx_events(tx, "replica = '" OTHER "' AND seq > ?1 ORDER BY seq", keep_event, two->events, "i",
              two->carried);
    return true;
}

static bool take(Tx *tx, void *context)
{
    TwoReplicas *two = context;

    for (guint i = 0; i < two->events->len; i++)
        assert_int_equal(tx_accept(tx, two->events->pdata[i]), ACCEPT_NEW);
    two->carried += two->events->len;
    g_ptr_array_set_size(two->events, 0);
    return true;
}

TwoReplicas two_replicas_new(guint32 seed, bool apart)
{
    TwoReplicas two = {.bench = bench_open(BENCH_SQLITE),
                       .other = store_memory_new(OTHER, BENCH_MORNING),
                       .random = g_rand_new_with_seed(seed),
                       .apart = apart,
                       .events = g_ptr_array_new_with_free_func((GDestroyNotify)event_free)};

    for (int i = 0; i < TWO_REPLICAS_CLIENTS; i++)
        two.bars[i] = g_ptr_array_new_with_free_func(g_free);
    return two;
}

void two_replicas_live(TwoReplicas *two)
{
    for (int i = 0; i < ROUNDS; i++) {
        assert_int_equal(bench_do(two->bench, two_replicas_write, two), STORE_OK);
        store_submit(two->other, BENCH_MORNING, two_replicas_write, NULL, two);
        store_submit(two->other, BENCH_MORNING, give, NULL, two);
        while (store_memory_pump(two->other) > 0)
            ;
        assert_int_equal(bench_do(two->bench, take, two), STORE_OK);
    }
    bench_shut(two->bench);
}

void two_replicas_free(TwoReplicas *two)
{
    for (int i = 0; i < TWO_REPLICAS_CLIENTS; i++)
        g_ptr_array_unref(two->bars[i]);
    g_ptr_array_unref(two->events);
    g_rand_free(two->random);
    two->other->close(two->other);
    bench_close(two->bench);
}
