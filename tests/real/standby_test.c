/* SPDX-License-Identifier: Apache-2.0 */
/* Two osierd of one clinic on a schema of a real PostgreSQL server: one works, the other stands by, says so, and takes over.
 * Kills at any moment are kill_test's. Monday 2 March 2026; London is at UTC. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <signal.h>
#include <string.h>

#include "tests/support/json_look.h"
#include "tests/support/site_gateway.h"
#include "tests/support/site_schema.h"

#define ADA "+442079460001"
#define MORNING "2026-03-02T08:05:00Z"
#define ASKS "time for your stretches"

typedef struct {
    Site *works;
    Site *waits;
    StandIn *gateway;
    char *schema;
    char *ada;
} Pair;

static void copy_keys(const Pair *pair)
{
    g_autofree char *path = g_build_filename(pair->works->clinic, "secrets/numbers.key", NULL);
    g_autofree char *keys = NULL;

    assert_true(g_file_get_contents(path, &keys, NULL, NULL));
    site_secret(pair->waits, "numbers.key", keys);
}

/* One works, with a client who is asked at half past eight. */
static Pair pair_make(void)
{
    Pair pair = {.works = site_new(),
                 .waits = site_new(),
                 .gateway = stand_in_new(speech_map(SPEAKS_JSON)),
                 .schema = pg_server_schema()};

    site_use(pair.works, pair.gateway, SPEAKS_JSON, site_free_port());
    site_use(pair.waits, pair.gateway, SPEAKS_JSON, site_free_port());
    site_use_schema(pair.works, pair.schema);
    site_use_schema(pair.waits, pair.schema);
    assert_int_equal(site_start(pair.works, MORNING), 0);
    pair.ada = site_client(pair.works, ADA, "08:30");
    return pair;
}

static void pair_close(Pair *pair)
{
    site_free(pair->works);
    site_free(pair->waits);
    stand_in_free(pair->gateway);
    g_free(pair->schema);
    g_free(pair->ada);
}

static void stand_by(Pair *pair)
{
    copy_keys(pair);
    assert_int_equal(site_stand_by(pair->waits, MORNING), 0);
}

static void one_that_stands_by_does_nothing_and_says_so(void **state)
{
    Pair pair = pair_make();
    long status;

    (void)state;
    stand_by(&pair);
    site_fails(pair.waits, 75, "stands by", "status");
    site_fails(pair.waits, 75, "stands by", "alerts");
    json_t *health = site_call(pair.waits, "GET", "/healthz", NULL, &status);
    assert_int_equal(status, 200);
    look_is(health, "state", "stands by");
    json_decref(health);
    assert_true(site_clock(pair.works, "2026-03-02T08:31:00Z"));
    assert_int_equal(stand_in_sent(pair.gateway, ADA, ASKS, NULL), 1);
    assert_int_equal(site_stop(pair.waits), 0);
    pair_close(&pair);
}

static void it_takes_over_where_the_first_is_stopped(void **state)
{
    Pair pair = pair_make();

    (void)state;
    stand_by(&pair);
    assert_int_equal(site_stop(pair.works), 0);
    assert_int_equal(site_take_over(pair.waits), 0);
    assert_true(site_clock(pair.waits, "2026-03-02T08:31:00Z"));
    assert_int_equal(stand_in_sent(pair.gateway, ADA, ASKS, NULL), 1);
    /* And back. */
    assert_int_equal(site_stand_by(pair.works, "2026-03-02T08:31:00Z"), 0);
    site_kill(pair.waits);
    assert_int_equal(site_take_over(pair.works), 0);
    assert_true(site_clock(pair.works, "2026-03-03T08:31:00Z"));
    assert_int_equal(stand_in_sent(pair.gateway, ADA, ASKS, NULL), 2);
    assert_int_equal(site_stop(pair.works), 0);
    json_t *checked = site_ask(pair.works, "check");
    look_json(checked, "{\"sound\":true}");
    json_decref(checked);
    pair_close(&pair);
}

/* The first lost its connection and the schema with it, and is alive: it may do nothing more, and ends to be started anew. */
static void a_first_one_that_lost_the_schema_ends(void **state)
{
    Pair pair = pair_make();
    long status;

    (void)state;
    assert_true(site_clock(pair.works, "2026-03-02T08:20:00Z"));
    stand_by(&pair);
    kill(pair.works->pid, SIGSTOP);
    g_free(pg_server_run("SELECT count(pg_terminate_backend(pid)) FROM pg_locks "
                         "WHERE locktype = 'advisory'"));
    assert_int_equal(site_take_over(pair.waits), 0);
    assert_true(site_clock(pair.waits, "2026-03-02T08:31:00Z"));
    kill(pair.works->pid, SIGCONT);
    json_decref(site_call(pair.works, "POST", "/clock",
                          json_pack("{s:s}", "to", "2026-03-02T08:45:00Z"), &status));
    assert_int_not_equal(status, 200);
    assert_int_equal(site_wait(pair.works), 76);
    assert_int_equal(stand_in_sent(pair.gateway, ADA, ASKS, NULL), 1);
    /* Started anew as the service manager would, it stands by. */
    assert_int_equal(site_stand_by(pair.works, MORNING), 0);
    site_fails(pair.works, 75, "stands by", "status");
    assert_int_equal(site_stop(pair.works), 0);
    pair_close(&pair);
}

static void what_cannot_stand_by_says_why(void **state)
{
    Pair pair = pair_make();

    (void)state;
    assert_int_equal(site_start(pair.waits, MORNING), 75); /* without being told to */
    assert_int_equal(site_stand_by(pair.waits, MORNING), 78);
    g_autofree char *keys = site_said(pair.waits);
    assert_non_null(strstr(keys, "copy its secrets/"));
    copy_keys(&pair);
    site_leave_schema(pair.waits);
    assert_int_equal(site_stand_by(pair.waits, MORNING), 64);
    g_autofree char *file = site_said(pair.waits);
    assert_non_null(strstr(file, "goes with a store on a server"));
    pair_close(&pair);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_that_stands_by_does_nothing_and_says_so),
        cmocka_unit_test(it_takes_over_where_the_first_is_stopped),
        cmocka_unit_test(a_first_one_that_lost_the_schema_ends),
        cmocka_unit_test(what_cannot_stand_by_says_why),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
