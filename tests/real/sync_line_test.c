/* SPDX-License-Identifier: Apache-2.0 */
/* A box and a laptop, and between them a line that is cut, slow, or lets only one way pass; and a box that is killed amid it all.
 * People work on meanwhile; once the line is whole again, one visit makes both agree. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "tests/support/json_look.h"
#include "tests/support/replicas.h"
#include "tests/support/rough_line.h"

enum {
    PLACES_MAX = 1500, /* more bytes than any exchange here has */
    STEP = 97,
    CUTS_LEAST = 6,
    TRIES_MOST = 20,
    CUT_EXCHANGES = 4, /* the handshake is one or two of them */
    KILLS = 6,
    SEED = 20260302
};

typedef struct {
    Site *box;
    Site *laptop;
    RoughLine *line; /* from the laptop to the box */
    char *client;
    int changes;
} Reach;

static Reach *reach_new(void)
{
    Reach *reach = g_new0(Reach, 1);
    int port = site_free_port();

    reach->box = replica_new("box", 11, port);
    reach->laptop = replica_new("laptop", 12, 0);
    reach->line = rough_line_new(port);
    assert_int_equal(site_start(reach->box, REPLICAS_MONDAY), 0);
    assert_int_equal(site_start(reach->laptop, REPLICAS_MONDAY), 0);
    replica_pair(reach->laptop, reach->box, rough_line_port(reach->line));
    reach->client = replica_client(reach->box, "Ada N.", 1);
    replica_visit(reach->laptop);
    return reach;
}

static void reach_free(Reach *reach)
{
    replicas_end(reach->laptop, reach->box);
    rough_line_free(reach->line);
    g_free(reach->client);
    g_free(reach);
}

static void change(Reach *reach)
{
    replicas_change(reach->box, reach->laptop, reach->client, ++reach->changes);
}

static void agree(Reach *reach)
{
    replicas_know(reach->box, reach->laptop, reach->client, reach->changes);
}

/* A visit that comes to nothing says so in one line; true where it was made. */
static bool tries(Site *site)
{
    g_autofree char *said = NULL;
    int code = site_osier(site, NULL, &said, "sync now");

    if (code == 0) return true;
    assert_int_equal(code, 75);
    assert_true(g_str_has_prefix(said, "osier: "));
    assert_ptr_equal(strchr(said, '\n'), said + strlen(said) - 1);
    return false;
}

static void cut_everywhere(Reach *reach, RoughCut cut)
{
    int failed = 0;

    for (int after = 0; after < PLACES_MAX; after += STEP) {
        change(reach);
        /* Now and then over a connection that stands, now and then with the handshake before it. */
        if (after % 2 == 0) {
            rough_line_down(reach->line, true);
            rough_line_down(reach->line, false);
        }
        rough_line_cut(reach->line, cut, after, after % 3 == 0, CUT_EXCHANGES);
        failed += !tries(reach->laptop);
        rough_line_cut(reach->line, CUT_NONE, 0, false, 0);
        replica_visit(reach->laptop);
        agree(reach);
    }
    print_message("%d visits failed, the line was cut %d times\n", failed,
                  rough_line_cuts(reach->line));
    assert_true(rough_line_cuts(reach->line) >= CUTS_LEAST);
    assert_true(failed > 0);
}

static void a_line_that_is_cut_anywhere_in_what_is_said(void **state)
{
    Reach *reach = reach_new();

    (void)state;
    cut_everywhere(reach, CUT_REQUEST);
    reach_free(reach);
}

static void a_line_that_is_cut_anywhere_in_what_is_heard(void **state)
{
    Reach *reach = reach_new();

    (void)state;
    cut_everywhere(reach, CUT_ANSWER);
    reach_free(reach);
}

static void a_line_that_is_slow_both_ways_by_a_laptop_a_day_ahead(void **state)
{
    Reach *reach = reach_new();

    (void)state;
    assert_true(site_clock(reach->laptop, "2026-03-03T09:00:00Z"));
    rough_line_slow(reach->line, 40, 60);
    for (int i = 0; i < 4; i++) {
        change(reach);
        replica_visit(reach->laptop);
        agree(reach);
    }
    g_autofree char *told = site_told(reach->laptop, "sync status");
    assert_non_null(strstr(told, "clock"));
    reach_free(reach);
}

/* Started anew, the laptop visits by itself; nothing, or half of it, comes through. Both are worked with all the same. */
static void one_way_alone(int request_ms, int answer_ms)
{
    Reach *reach = reach_new();

    assert_int_equal(site_stop(reach->laptop), 0);
    rough_line_down(reach->line, true);
    rough_line_down(reach->line, false);
    rough_line_slow(reach->line, request_ms, answer_ms);
    assert_int_equal(site_start(reach->laptop, "2026-03-02T09:30:00Z"), 0);
    for (int i = 0; i < 3; i++)
        change(reach);
    json_decref(site_ask(reach->laptop, "sync status"));
    json_decref(site_ask(reach->box, "sync status"));
    rough_line_slow(reach->line, 0, 0);
    rough_line_down(reach->line, true); /* what hung there has its end */
    rough_line_down(reach->line, false);
    int failed = 0;
    while (!tries(reach->laptop))
        assert_true(++failed < TRIES_MOST);
    agree(reach);
    reach_free(reach);
}

static void a_line_on_which_no_answer_comes(void **state)
{
    (void)state;
    one_way_alone(0, -1);
}

static void a_line_on_which_nothing_that_is_said_arrives(void **state)
{
    (void)state;
    one_way_alone(-1, 0);
}

static void *visit_apart(void *context)
{
    tries(context);
    return NULL;
}

/* At any moment of a visit on a slow line: what was told is kept, what was not is told again. */
static void a_box_that_is_killed_amid_a_visit(void **state)
{
    g_autoptr(GRand) random = g_rand_new_with_seed(SEED);
    Reach *reach = reach_new();

    (void)state;
    print_message("seed %d\n", SEED);
    for (int i = 0; i < KILLS; i++) {
        change(reach);
        rough_line_slow(reach->line, 15, 15);
        GThread *visit = g_thread_new("visit", visit_apart, reach->laptop);
        g_usleep((gulong)g_rand_int_range(random, 0, 200 * 1000));
        site_kill(reach->box);
        g_thread_join(visit);
        rough_line_slow(reach->line, 0, 0);
        assert_int_equal(site_start(reach->box, REPLICAS_MONDAY), 0);
        replica_visit(reach->laptop);
        agree(reach);
    }
    reach_free(reach);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_line_that_is_cut_anywhere_in_what_is_said),
        cmocka_unit_test(a_line_that_is_cut_anywhere_in_what_is_heard),
        cmocka_unit_test(a_line_that_is_slow_both_ways_by_a_laptop_a_day_ahead),
        cmocka_unit_test(a_line_on_which_no_answer_comes),
        cmocka_unit_test(a_line_on_which_nothing_that_is_said_arrives),
        cmocka_unit_test(a_box_that_is_killed_amid_a_visit),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
