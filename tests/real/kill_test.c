/* SPDX-License-Identifier: Apache-2.0 */
/* osierd is killed at moments nobody chose - or the PostgreSQL server that keeps its store is, or the one of two osierd that
 * works - while its clock is stepped, replies are polled and posted and a dozen clients are written to; then it goes on in the
 * same folder, or the other takes over. In the end nothing may be lost, and only what was being written at a kill may have been
 * sent twice.
 *
 *   kill_test [KILLS [SEED [SCENARIO]]] */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <signal.h>
#include <sqlite3.h>
#include <stdlib.h>
#include <string.h>

#include "core/calendar/date.h"
#include "tests/support/json_look.h"
#include "tests/support/kill_world.h"
#include "tests/support/site_schema.h"

#define START "2026-03-02T07:00:00Z"
#define STEP_MS_MAX (5 * 60 * 60 * 1000)
/* Whom the kills meet. */
typedef enum { MEETS_OSIERD, MEETS_SERVER, MEETS_ONE_OF_TWO } Meeting;

#define POSTS 3 /* webhooks beside each step */

static int kills = 5;
static guint32 seed = 20260302;

static char *phone_of(int client)
{
    return g_strdup_printf("+44207946%04d", 1 + client);
}

/* Most answers are plain; some call a clinician. */
static char *reply_text(KillWorld *world)
{
    static const char *const SAID[] = {"D 4 P0",   "N",      "done, bit tight, 5 no pain",
                                       "did half", "D 3 P8", "I slipped and fell in the hall"};
    int which = g_rand_int_range(world->random, 0, 40);
    const char *said = SAID[which < 4 ? 4 + which / 2 % 2 : which % 4];

    return g_strdup_printf("%s [%d]", said, ++world->replies);
}

/* --- what the world does --- */

static void answer_by_poll(KillWorld *world)
{
    for (int i = 0; i < 3; i++) {
        g_autofree char *phone = phone_of(g_rand_int_range(world->random, 0, KILL_CLIENTS));
        char *text = reply_text(world);
        stand_in_put(world->gateway, phone, text, NULL);
        g_hash_table_add(world->sent_in, text);
    }
}

static long post_reply(const KillWorld *world, const char *phone, const char *text, int number)
{
    if (world->speech == SPEAKS_JSON) {
        g_autofree char *body = g_strdup_printf(
            "{\"msg\":{\"uid\":%d,\"who\":\"%s\",\"content\":\"%s\"}}", number, phone, text);
        const char *const headers[] = {"Content-Type: application/json", NULL};
        return site_post(world->port, "/in/texts", headers, body, strlen(body));
    }
    g_autofree char *from = g_uri_escape_string(phone, NULL, FALSE);
    g_autofree char *said = g_uri_escape_string(text, NULL, FALSE);
    g_autofree char *body = g_strdup_printf("Sid=H%d&From=%s&Body=%s", number, from, said);
    guint8 digest[32];
    gsize length = sizeof digest;
    GHmac *hmac = g_hmac_new(G_CHECKSUM_SHA256, (const guchar *)HOOK_KEY, strlen(HOOK_KEY));
    g_hmac_update(hmac, (const guchar *)body, -1);
    g_hmac_get_digest(hmac, digest, &length);
    g_hmac_unref(hmac);
    g_autofree char *mac = g_base64_encode(digest, length);
    g_autofree char *header = g_strconcat("X-Sign: v=", mac, NULL);
    const char *const headers[] = {"Content-Type: application/x-www-form-urlencoded", header, NULL};
    return site_post(world->port, "/in/texts", headers, body, strlen(body));
}

typedef struct {
    KillWorld *world;
    char *phone[POSTS];
    char *text[POSTS]; /* NULL once it is known that it was not taken */
    int number;
} Posting;

/* Beside a step, in a thread: what was answered with success must be kept. */
static void *post_all(void *context)
{
    Posting *posting = context;

    for (int i = 0; i < POSTS; i++)
        if (post_reply(posting->world, posting->phone[i], posting->text[i], posting->number + i) !=
            200)
            g_clear_pointer(&posting->text[i], g_free);
    return NULL;
}

static void take_up_alerts(KillWorld *world)
{
    long status;
    json_t *alerts = site_call(world->site, "GET", "/alerts", NULL, &status);
    json_t *alert;
    size_t i;

    json_array_foreach(alerts, i, alert)
    {
        const char *id = json_string_value(json_object_get(alert, "alert"));
        g_autofree char *path = g_strdup_printf("/alerts/%s/close", id);
        if (g_rand_boolean(world->random))
            json_decref(site_call(world->site, "POST", path,
                                  json_pack("{s:s, s:s}", "by", "R. Okafor", "outcome", "resume"),
                                  &status));
    }
    json_decref(alerts);
}

/* --- the kill --- */

typedef struct {
    pid_t pid;
    pid_t other; /* stops meanwhile, so that what was being written can be read; or 0 */
    gint64 after_us;
} Killer;

static void *kill_later(void *context)
{
    const Killer *killer = context;

    g_usleep((gulong)killer->after_us);
    if (killer->other > 0) kill(killer->other, SIGSTOP);
    kill(killer->pid, SIGKILL);
    return NULL;
}

static void note_in_schema(KillWorld *world)
{
    g_autofree char *select = g_strdup_printf(
        "SELECT string_agg(id, ' ') FROM %s.outbox WHERE state = 'writing'", world->schema);
    g_autofree char *ids = pg_server_run(select);
    g_auto(GStrv) words = g_strsplit(ids != NULL ? ids : "", " ", -1);

    for (int i = 0; words[i] != NULL; i++)
        g_hash_table_add(world->being_written, g_strdup(words[i]));
}

/* Reads a copy, so that the store itself is opened by nobody but osierd. */
static void note_in_file(KillWorld *world)
{
    g_autofree char *copy = g_build_filename(world->site->root, "copy.db", NULL);
    sqlite3 *db = NULL;
    sqlite3_stmt *statement = NULL;

    for (int i = 0; i < 2; i++) {
        g_autofree char *from =
            g_strdup_printf("%s/store.db%s", world->site->clinic, i ? "-wal" : "");
        g_autofree char *to = g_strdup_printf("%s%s", copy, i ? "-wal" : "");
        g_autofree char *bytes = NULL;
        gsize length = 0;
        g_file_get_contents(from, &bytes, &length, NULL);
        assert_true(g_file_set_contents(to, bytes != NULL ? bytes : "", (gssize)length, NULL));
    }
    assert_int_equal(sqlite3_open(copy, &db), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(db, "SELECT id FROM outbox WHERE state = 'writing'", -1,
                                        &statement, NULL),
                     SQLITE_OK);
    while (sqlite3_step(statement) == SQLITE_ROW)
        g_hash_table_add(world->being_written,
                         g_strdup((const char *)sqlite3_column_text(statement, 0)));
    sqlite3_finalize(statement);
    sqlite3_close(db);
}

static void note_being_written(KillWorld *world)
{
    if (world->schema != NULL)
        note_in_schema(world);
    else
        note_in_file(world);
}

/* --- a step that is met --- */

typedef struct {
    KillWorld *world;
    const char *to;
    bool whole;
} Stepping;

static void *step(void *context)
{
    Stepping *stepping = context;

    stepping->whole = site_clock(stepping->world->site, stepping->to);
    return NULL;
}

/* The server stops as a power cut would stop it, and is started again. It belongs to this thread. */
static bool meet_server(KillWorld *world, const char *to, gint64 after_us)
{
    Stepping stepping = {.world = world, .to = to};
    GThread *thread = g_thread_new("step", step, &stepping);

    g_usleep((gulong)after_us);
    pg_server_stop();
    pg_server_start(NULL);
    g_thread_join(thread);
    return stepping.whole;
}

static bool meet_osierd(KillWorld *world, const char *to, gint64 after_us)
{
    Killer killer = {.pid = world->site->pid,
                     .other = world->other != NULL ? world->other->pid : 0,
                     .after_us = after_us};
    GThread *killing = g_thread_new("killer", kill_later, &killer);
    bool whole = site_clock(world->site, to);

    g_thread_join(killing);
    site_wait(world->site);
    return whole;
}

/* The other machine's clock may be behind or ahead of this one's. */
static int64_t stand_by(KillWorld *world, int64_t to_ms)
{
    int64_t at_ms = g_rand_boolean(world->random) ? world->now_ms : to_ms;
    g_autofree char *at = instant_format(at_ms);

    assert_int_equal(site_stand_by(world->other, at), 0);
    return at_ms;
}

static void step_and_kill(KillWorld *world)
{
    int64_t to_ms =
        world->now_ms + 60000 * g_rand_int_range(world->random, 10, STEP_MS_MAX / 60000);
    g_autofree char *to = instant_format(to_ms);
    int64_t other_ms = world->other != NULL ? stand_by(world, to_ms) : 0;
    Posting posting = {.world = world, .number = world->replies + 1};
    gint64 after_us = g_rand_int_range(world->random, 0, (gint32)(world->step_us * 5 / 4));
    gint64 began = g_get_monotonic_time();

    for (int i = 0; i < POSTS; i++) {
        posting.phone[i] = phone_of(g_rand_int_range(world->random, 0, KILL_CLIENTS));
        posting.text[i] = reply_text(world);
    }
    GThread *poster = g_thread_new("poster", post_all, &posting);
    bool whole =
        world->server ? meet_server(world, to, after_us) : meet_osierd(world, to, after_us);
    if (whole && !world->server)
        world->step_us = (world->step_us * 3 + g_get_monotonic_time() - began) / 4;
    else if (!whole)
        world->cut_short++;
    g_thread_join(poster);
    for (int i = 0; i < POSTS; i++) {
        if (posting.text[i] != NULL) g_hash_table_add(world->sent_in, posting.text[i]);
        g_free(posting.phone[i]);
    }
    /* The clock of the machine may have stood or gone on meanwhile. */
    if (world->other != NULL)
        world->now_ms = other_ms;
    else if (whole || g_rand_boolean(world->random))
        world->now_ms = to_ms;
}

static void check_sound(KillWorld *world)
{
    json_t *checked = site_ask(world->site, "check");

    look_json(checked, "{\"sound\":true}");
    json_decref(checked);
}

static void go_on(KillWorld *world)
{
    g_autofree char *now = instant_format(world->now_ms);

    assert_int_equal(site_start(world->site, now), 0);
}

/* --- the end --- */

/* Two days more without a kill; then whatever was under way has come to its end. */
static void finish(KillWorld *world)
{
    json_t *alerts;
    long status;
    int asked = 0;

    for (int i = 0; i < 2; i++) {
        take_up_alerts(world);
        world->now_ms = (world->now_ms / 86400000 + 1) * 86400000 + 8 * 3600000 + 1800000;
        g_autofree char *to = instant_format(world->now_ms);
        assert_true(site_clock(world->site, to));
    }
    alerts = site_call(world->site, "GET", "/alerts", NULL, &status);
    kill_check_replies(world);
    kill_check_sessions(world, &asked);
    kill_check_messages(world);
    print_message(
        "%d kills, %d in the midst of a step; %d sessions asked, %u replies, %zu alerts open\n",
        kills, world->cut_short, asked, g_hash_table_size(world->sent_in), json_array_size(alerts));
    json_decref(alerts);
    assert_int_equal(site_stop(world->site), 0);
    check_sound(world);
}

/* Who stood by works now, and the folder of who was killed stands by at the next step. */
static void take_over(KillWorld *world)
{
    Site *killed = world->site;

    kill(world->other->pid, SIGCONT);
    assert_int_equal(site_take_over(world->other), 0);
    world->site = world->other;
    world->other = killed;
}

/* Osierd lives on where only the server was met, and has to say itself what became of each message. */
static void look_and_go_on(KillWorld *world)
{
    if (world->server) return;
    note_being_written(world);
    if (world->other != NULL) {
        take_over(world);
    } else {
        check_sound(world);
        go_on(world);
    }
}

/* A second folder of the same clinic, on another machine as it were. */
static void pair_up(KillWorld *world)
{
    static const char KEYS[] = "secrets/numbers.key";
    g_autofree char *path = g_build_filename(world->site->clinic, KEYS, NULL);
    g_autofree char *keys = NULL;

    assert_true(g_file_get_contents(path, &keys, NULL, NULL));
    world->other = site_new();
    site_use(world->other, world->gateway, world->speech, world->port);
    site_use_schema(world->other, world->schema);
    site_secret(world->other, "numbers.key", keys);
}

static void run(Speech speech, char *schema, Meeting meeting)
{
    KillWorld world = {.site = site_new(),
                       .schema = schema,
                       .server = meeting == MEETS_SERVER,
                       .gateway = stand_in_new(speech_map(speech)),
                       .port = site_free_port(),
                       .speech = speech,
                       .random = g_rand_new_with_seed(seed),
                       .step_us = 200000,
                       .sent_in = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL),
                       .being_written =
                           g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL)};

    print_message("seed %u\n", seed);
    assert_true(instant_parse(START, &world.now_ms));
    site_use(world.site, world.gateway, speech, world.port);
    if (schema != NULL) site_use_schema(world.site, schema);
    go_on(&world);
    for (int i = 0; i < KILL_CLIENTS; i++) {
        g_autofree char *phone = phone_of(i);
        world.clients[i] = site_client(world.site, phone, i % 2 ? "09:00,17:00" : "09:30,17:00");
    }
    if (meeting == MEETS_ONE_OF_TWO) pair_up(&world);
    for (int i = 0; i < kills; i++) {
        answer_by_poll(&world);
        take_up_alerts(&world);
        step_and_kill(&world);
        look_and_go_on(&world);
    }
    finish(&world);
    for (int i = 0; i < KILL_CLIENTS; i++)
        g_free(world.clients[i]);
    g_hash_table_unref(world.sent_in);
    g_hash_table_unref(world.being_written);
    g_rand_free(world.random);
    site_free(world.site);
    if (world.other != NULL) site_free(world.other);
    stand_in_free(world.gateway);
    g_free(schema);
}

static void a_gateway_that_takes_keys(void **state)
{
    (void)state;
    run(SPEAKS_FORM, NULL, MEETS_OSIERD);
}

static void a_gateway_that_takes_none(void **state)
{
    (void)state;
    run(SPEAKS_JSON, NULL, MEETS_OSIERD);
}

static void a_store_on_a_server(void **state)
{
    (void)state;
    run(SPEAKS_FORM, pg_server_schema(), MEETS_OSIERD);
    run(SPEAKS_JSON, pg_server_schema(), MEETS_OSIERD);
}

static void the_server_itself(void **state)
{
    (void)state;
    run(SPEAKS_JSON, pg_server_schema(), MEETS_SERVER);
}

static void one_of_two_that_share_a_schema(void **state)
{
    (void)state;
    run(SPEAKS_FORM, pg_server_schema(), MEETS_ONE_OF_TWO);
    run(SPEAKS_JSON, pg_server_schema(), MEETS_ONE_OF_TWO);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_gateway_that_takes_keys),
        cmocka_unit_test(a_gateway_that_takes_none),
        cmocka_unit_test(a_store_on_a_server),
        cmocka_unit_test(the_server_itself),
        cmocka_unit_test(one_of_two_that_share_a_schema),
    };

    if (argc > 1) kills = MAX(1, atoi(argv[1]));
    if (argc > 2) seed = (guint32)strtoul(argv[2], NULL, 10);
    if (argc > 3) cmocka_set_test_filter(argv[3]);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
