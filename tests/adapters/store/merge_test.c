/* SPDX-License-Identifier: Apache-2.0 */
/* Replicas that write, are cut off, lie about the time, erase people, and meet again: whatever arrives in whatever order,
 * cut and repeated, all end with the same tables, which are those that the events give. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "adapters/store/store_memory.h"
#include "adapters/store/store_postgres.h"
#include "core/ledger/chain.h"
#include "core/ledger/pack.h"
#include "tests/support/ledger_rebuild.h"
#include "tests/support/ledger_tables.h"
#include "tests/support/pg_server.h"

#define REPLICAS_MAX 5
#define HISTORIES 200
#define HISTORIES_ON_A_SERVER 10
#define MORNING INT64_C(1772438400000)
#define DAY INT64_C(86400000)

typedef struct {
    Store *store[REPLICAS_MAX];
    uv_loop_t *loop;             /* of the first, which is on a real server; NULL: on none */
    int64_t ahead[REPLICAS_MAX]; /* of its clock */
    int replicas;
    int64_t now;
    GRand *random;
    guint32 seed;
} World;

static int draw(World *world, int below)
{
    return g_rand_int_range(world->random, 0, below);
}

static void on_done(StoreStatus status, void *context)
{
    if (status != STORE_OK) fail_msg("a job was not kept (%p)", context);
}

static void run(World *world, int at, StoreJob *job, void *context)
{
    store_submit(world->store[at], world->now + world->ahead[at], job, on_done, context);
    if (at == 0 && world->loop != NULL)
        while (world->store[0]->pending(world->store[0]) > 0)
            uv_run(world->loop, UV_RUN_ONCE);
    else
        while (store_memory_pump(world->store[at]) > 0)
            ;
}

/* --- writing --- */

typedef struct {
    World *world;
    bool erases;
} Write;

static bool write_job(Tx *tx, void *context)
{
    Write *write = context;
    GRand *random = write->world->random;

    for (int i = g_rand_int_range(random, 1, 5); i > 0; i--) {
        const char *kind;
        g_autofree char *subject = NULL;
        g_autofree char *body = ledger_draw(random, &kind, &subject);
        bool takes_words = strcmp(kind, "client.erase") == 0 || strcmp(kind, "redacted") == 0;

        if (takes_words && !write->erases) continue;
        tx_append(tx, kind, subject, "R. Okafor", NULL, json_loads(body, 0, NULL));
    }
    return true;
}

/* --- carrying --- */

typedef struct {
    World *world;
    GArray *had;       /* the other's vector */
    GByteArray *bytes; /* what it lacks, packed */
    int events;
    int cut; /* events that get through */
} Carry;

static bool look_job(Tx *tx, void *context)
{
    ((Carry *)context)->had = tx_vector(tx);
    return true;
}

static int64_t had(const Carry *carry, const char *replica)
{
    for (guint i = 0; i < carry->had->len; i++) {
        const VectorEntry *entry = &g_array_index(carry->had, VectorEntry, i);
        if (strcmp(entry->replica, replica) == 0) return entry->seq;
    }
    return 0;
}

static bool pack_one(const Event *event, void *context)
{
    Carry *carry = context;
    int64_t from = had(carry, event->replica);

    if (event->seq <= from - 2) return true; /* now and then what it has already */
    pack_event(carry->bytes, event);
    carry->events++;
    return true;
}

static bool give_job(Tx *tx, void *context)
{
    tx_events(tx, "", pack_one, context, "");
    return true;
}

static bool take_job(Tx *tx, void *context)
{
    Carry *carry = context;
    Packed packed = {.at = carry->bytes->data, .left = carry->bytes->len};

    for (int i = 0; i < carry->cut; i++) {
        g_autoptr(Event) event = unpack_event(&packed);

        if (event == NULL) fail_msg("seed %u: not unpacked", carry->world->seed);
        Accepted accepted = tx_accept(tx, event);
        if (accepted == ACCEPT_GAP || accepted == ACCEPT_FORK || accepted == ACCEPT_BROKEN)
            fail_msg("seed %u: %s:%d is refused: %d", carry->world->seed, event->replica,
                     (int)event->seq, accepted);
        if (g_rand_int_range(carry->world->random, 0, 5) == 0)
            assert_int_equal(tx_accept(tx, event), ACCEPT_KNOWN);
    }
    return true;
}

/* From one to the other; whole, or cut anywhere. */
static void carry_over(World *world, int from, int to, bool whole)
{
    Carry carry = {.world = world, .bytes = g_byte_array_new()};

    run(world, to, look_job, &carry);
    run(world, from, give_job, &carry);
    carry.cut = whole ? carry.events : draw(world, carry.events + 1);
    run(world, to, take_job, &carry);
    g_array_unref(carry.had);
    g_byte_array_unref(carry.bytes);
}

/* --- looking --- */

static bool dump_job(Tx *tx, void *context)
{
    *(char **)context = tx_dump(tx);
    return true;
}

static bool rebuild_job(Tx *tx, void *context)
{
    *(char **)context = ledger_rebuilt(tx);
    return true;
}

typedef struct {
    int events;
} Chains;

static bool walk_job(Tx *tx, void *context)
{
    g_autoptr(GArray) vector = tx_vector(tx);
    Chains *chains = context;

    for (guint i = 0; i < vector->len; i++)
        chains->events += (int)g_array_index(vector, VectorEntry, i).seq;
    return true;
}

static char *dump_of(World *world, int at)
{
    char *dump = NULL;

    run(world, at, dump_job, &dump);
    return dump;
}

static char *rebuilt(World *world, int at)
{
    char *dump = NULL;

    run(world, at, rebuild_job, &dump);
    return dump;
}

static void tell_difference(World *world, const char *what, const char *one, const char *other)
{
    g_auto(GStrv) a = g_strsplit(one, "\n", -1), b = g_strsplit(other, "\n", -1);

    for (int i = 0; a[i] != NULL && b[i] != NULL; i++)
        if (strcmp(a[i], b[i]) != 0) {
            fail_msg("seed %u, %s:\n  %s\n  %s", world->seed, what, a[i], b[i]);
            return;
        }
    fail_msg("seed %u, %s: one has more rows", world->seed, what);
}

static Store *open_on_server(World *world, const char *replica)
{
    g_autofree char *schema = pg_server_schema();
    const PostgresPlace place = {.connect = pg_server_connect(), .schema = schema};
    g_autofree char *why = NULL;
    Store *store = NULL;

    if (store_postgres_open(world->loop, &place, STORE_LIVE, replica, MORNING, &store, &why) !=
        OPEN_OK)
        fail_msg("%s", why);
    return store;
}

static void open_world(World *world)
{
    world->replicas = 2 + (int)(world->seed % (REPLICAS_MAX - 1));
    world->now = MORNING;
    for (int i = 0; i < world->replicas; i++) {
        g_autofree char *id = g_strdup_printf("00000000000000%c%c", 'a' + i, 'a' + i);
        world->store[i] = i == 0 && world->loop != NULL ? open_on_server(world, id)
                                                        : store_memory_new(id, MORNING);
    }
    if (draw(world, 3) == 0) world->ahead[0] = DAY;
    if (draw(world, 3) == 0) world->ahead[1] = draw(world, 2) == 0 ? 365 * DAY : -DAY;
}

static void live(World *world)
{
    bool erases = draw(world, 4) == 0;

    for (int step = 0; step < 18; step++) {
        int at = draw(world, world->replicas), other = draw(world, world->replicas);
        Write write = {.world = world, .erases = erases && step > 8};

        world->now += draw(world, 3) * 60000;
        run(world, at, write_job, &write);
        if (other != at && draw(world, 3) == 0) carry_over(world, at, other, draw(world, 3) == 0);
    }
}

static int count_events(World *world, int at)
{
    Chains chains = {0};

    run(world, at, walk_job, &chains);
    return chains.events;
}

static bool all_have_the_same(World *world)
{
    int first = count_events(world, 0);

    for (int i = 1; i < world->replicas; i++)
        if (count_events(world, i) != first) return false;
    return true;
}

/* Round and round: what one round makes (bounds, words left out) travels in the next. */
static void heal(World *world)
{
    for (int round = 0; round < 10; round++) {
        for (int i = 0; i < world->replicas; i++)
            carry_over(world, i, (i + 1) % world->replicas, true);
        if (all_have_the_same(world)) return;
    }
    fail_msg("seed %u: they do not come to an end", world->seed);
}

static void check(World *world)
{
    g_autofree char *first = dump_of(world, 0);
    g_autofree char *again = rebuilt(world, 0);
    g_autofree char *first_sorted = ledger_sorted(first);

    for (int i = 1; i < world->replicas; i++) {
        g_autofree char *dump = dump_of(world, i);

        if (strcmp(first, dump) != 0) tell_difference(world, "two replicas", first, dump);
    }
    if (strcmp(first_sorted, again) != 0)
        tell_difference(world, "tables and a rebuild", first_sorted, again);
}

static void play(guint32 seed, uv_loop_t *loop)
{
    World world = {.seed = seed, .random = g_rand_new_with_seed(seed), .loop = loop};

    open_world(&world);
    live(&world);
    heal(&world);
    check(&world);
    for (int i = 0; i < world.replicas; i++)
        world.store[i]->close(world.store[i]);
    if (loop != NULL) uv_run(loop, UV_RUN_DEFAULT);
    g_rand_free(world.random);
}

static void all_agree_after_healing(void **state)
{
    const char *more = g_getenv("OSIER_HISTORIES");
    guint32 histories = more != NULL ? (guint32)g_ascii_strtoull(more, NULL, 10) : HISTORIES;

    (void)state;
    print_message("seeds 1 to %u\n", histories);
    for (guint32 seed = 1; seed <= histories; seed++)
        play(seed, NULL);
}

/* One is on PostgreSQL, the others on SQLite. */
static void all_agree_whatever_keeps_them(void **state)
{
    uv_loop_t loop;

    (void)state;
    uv_loop_init(&loop);
    print_message("seeds 1 to %d\n", HISTORIES_ON_A_SERVER);
    for (guint32 seed = 1; seed <= HISTORIES_ON_A_SERVER; seed++)
        play(seed, &loop);
    uv_loop_close(&loop);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(all_agree_after_healing),
                                       cmocka_unit_test(all_agree_whatever_keeps_them)};

    return cmocka_run_group_tests(tests, NULL, NULL);
}
