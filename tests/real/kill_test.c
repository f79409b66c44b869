/* SPDX-License-Identifier: Apache-2.0 */
/* osierd is killed at moments nobody chose, while its clock is stepped, replies are polled and posted
 * and a dozen clients are written to; then it goes on in the same folder. In the end nothing may be
 * lost, and only what was being written at a kill may have been sent twice.
 *
 *   kill_test [KILLS [SEED]] */
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
#include "tests/support/site_gateway.h"

#define CLIENTS 12
#define FIRST_DAY 20514 /* 2 March 2026, in days since 1970 */
#define START "2026-03-02T07:00:00Z"
#define STEP_MS_MAX (5 * 60 * 60 * 1000)
#define POSTS 3 /* webhooks beside each step */

static int kills = 5;
static guint32 seed = 20260302;

typedef struct {
    Site *site;
    StandIn *gateway;
    int port;
    Speech speech;
    GRand *random;
    int64_t now_ms;
    gint64 step_us; /* how long a step takes, about */
    char *clients[CLIENTS];
    GHashTable *sent_in;       /* texts that the world sent and that may not be lost */
    GHashTable *being_written; /* ids of messages that were being written at a kill */
    int replies;
    int cut_short; /* kills in the midst of a step */
} World;

static char *phone_of(int client)
{
    return g_strdup_printf("+44207946%04d", 1 + client);
}

/* Most answers are plain; some call a clinician. */
static char *reply_text(World *world)
{
    static const char *const SAID[] = {"D 4 P0",   "N",      "done, bit tight, 5 no pain",
                                       "did half", "D 3 P8", "I slipped and fell in the hall"};
    int which = g_rand_int_range(world->random, 0, 40);
    const char *said = SAID[which < 4 ? 4 + which / 2 % 2 : which % 4];

    return g_strdup_printf("%s [%d]", said, ++world->replies);
}

/* --- what the world does --- */

static void answer_by_poll(World *world)
{
    for (int i = 0; i < 3; i++) {
        g_autofree char *phone = phone_of(g_rand_int_range(world->random, 0, CLIENTS));
        char *text = reply_text(world);
        stand_in_put(world->gateway, phone, text, NULL);
        g_hash_table_add(world->sent_in, text);
    }
}

static long post_reply(const World *world, const char *phone, const char *text, int number)
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
    World *world;
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

static void take_up_alerts(World *world)
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
    gint64 after_us;
} Killer;

static void *kill_later(void *context)
{
    const Killer *killer = context;

    g_usleep((gulong)killer->after_us);
    kill(killer->pid, SIGKILL);
    return NULL;
}

/* Reads a copy, so that the store itself is opened by nobody but osierd. */
static void note_being_written(World *world)
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

static void step_and_kill(World *world)
{
    int64_t to_ms =
        world->now_ms + 60000 * g_rand_int_range(world->random, 10, STEP_MS_MAX / 60000);
    g_autofree char *to = instant_format(to_ms);
    Posting posting = {.world = world, .number = world->replies + 1};
    Killer killer = {.pid = world->site->pid,
                     .after_us =
                         g_rand_int_range(world->random, 0, (gint32)(world->step_us * 5 / 4))};
    gint64 began = g_get_monotonic_time();

    for (int i = 0; i < POSTS; i++) {
        posting.phone[i] = phone_of(g_rand_int_range(world->random, 0, CLIENTS));
        posting.text[i] = reply_text(world);
    }
    GThread *poster = g_thread_new("poster", post_all, &posting);
    GThread *killing = g_thread_new("killer", kill_later, &killer);
    bool whole = site_clock(world->site, to);
    if (whole)
        world->step_us = (world->step_us * 3 + g_get_monotonic_time() - began) / 4;
    else
        world->cut_short++;
    g_thread_join(killing);
    g_thread_join(poster);
    site_wait(world->site);
    for (int i = 0; i < POSTS; i++) {
        if (posting.text[i] != NULL) g_hash_table_add(world->sent_in, posting.text[i]);
        g_free(posting.phone[i]);
    }
    /* The clock of the machine may have stood or gone on meanwhile. */
    if (whole || g_rand_boolean(world->random)) world->now_ms = to_ms;
}

static void check_sound(World *world)
{
    json_t *checked = site_ask(world->site, "check");

    look_json(checked, "{\"sound\":true}");
    json_decref(checked);
}

static void go_on(World *world)
{
    g_autofree char *now = instant_format(world->now_ms);

    assert_int_equal(site_start(world->site, now), 0);
}

/* --- what must hold in the end --- */

static void check_replies(World *world)
{
    long status;
    json_t *replies = site_call(world->site, "GET", "/replies", NULL, &status);
    GHashTableIter texts;
    void *text;

    g_hash_table_iter_init(&texts, world->sent_in);
    while (g_hash_table_iter_next(&texts, &text, NULL))
        if (look_count(replies, "text", text) != 1)
            fail_msg("'%s' is %d times in the ledger", (char *)text,
                     look_count(replies, "text", text));
    assert_int_equal(look_count(replies, "state", "received"), 0);
    json_decref(replies);
}

static void check_sessions(World *world, int *asked)
{
    long status;
    json_t *session;
    size_t j;

    for (int i = 0; i < CLIENTS; i++) {
        int days = (int)((world->now_ms / 86400000) - FIRST_DAY) - 1; /* yesterday's may be open */
        g_autofree char *path = g_strdup_printf("/clients/%s/sessions?from=2026-03-02&days=%d",
                                                world->clients[i], days);
        json_t *sessions = site_call(world->site, "GET", path, NULL, &status);
        assert_int_equal(json_array_size(sessions), days * 2);
        json_array_foreach(sessions, j, session)
        {
            const char *state = json_string_value(json_object_get(session, "state"));
            if (strcmp(state, "planned") == 0 || strcmp(state, "asked") == 0)
                fail_msg("a session of %s is still %s",
                         json_string_value(json_object_get(session, "local")), state);
            *asked += strcmp(state, "excused") != 0;
        }
        json_decref(sessions);
    }
}

static json_t *message_of(json_t *messages, const char *id)
{
    json_t *message;
    size_t i;

    json_array_foreach(messages, i, message)
    {
        if (g_strcmp0(json_string_value(json_object_get(message, "message")), id) == 0)
            return message;
    }
    return NULL;
}

/* The table in docs/gateways.md: what a gateway that takes keys may hold goes there again, and ends as unsure only where it
 * may not go any more: its end has passed, say. */
static void check_unsure(const World *world, const json_t *message)
{
    const char *id = json_string_value(json_object_get(message, "message"));
    const char *reason = json_string_value(json_object_get(message, "reason"));

    if (world->speech != SPEAKS_FORM) return;
    if (!g_hash_table_contains(world->being_written, id))
        fail_msg("unsure, though no kill met it: %s", id);
    if (reason == NULL || strstr(reason, "while writing it") != NULL)
        fail_msg("unsure, though the gateway takes keys: %s", id);
}

/* Whatever the gateway saw is in the ledger, once unless it was being written at a kill; whatever the
 * ledger calls accepted, the gateway saw. */
static void check_messages(World *world)
{
    g_autoptr(GHashTable) seen = g_hash_table_new(g_str_hash, g_str_equal);
    g_autoptr(GHashTable) asked = g_hash_table_new(g_str_hash, g_str_equal);
    int repeated = 0, unsure = 0;
    long status;
    json_t *messages = site_call(world->site, "GET", "/messages", NULL, &status);
    json_t *message;
    size_t j;

    for (int i = 0; i < stand_in_count(world->gateway); i++) {
        const StandInSend *send = stand_in_send(world->gateway, i);
        message = message_of(messages, send->id);
        if (message == NULL) fail_msg("the ledger knows nothing of '%s'", send->text);
        if (g_hash_table_add(seen, send->id)) continue;
        repeated++;
        const char *kind = json_string_value(json_object_get(message, "kind"));
        if (!g_hash_table_contains(world->being_written, send->id))
            fail_msg("sent twice, though no kill met it: %s", send->text);
        if (world->speech == SPEAKS_JSON && strcmp(kind, "alert") != 0 &&
            strcmp(kind, "safety") != 0)
            fail_msg("a %s was sent twice by a gateway that takes no key", kind);
    }
    json_array_foreach(messages, j, message)
    {
        const char *fate = json_string_value(json_object_get(message, "fate"));
        const char *id = json_string_value(json_object_get(message, "message"));
        const char *session = json_string_value(json_object_get(message, "session"));
        bool sms = strcmp(json_string_value(json_object_get(message, "channel")), "sms") == 0;
        if (strcmp(fate, "waiting") == 0 || strcmp(fate, "writing") == 0)
            fail_msg("a message still has no fate: %s", id);
        if (sms && strcmp(fate, "accepted") == 0 && !g_hash_table_contains(seen, id))
            fail_msg("accepted, though the gateway never saw it: %s", id);
        if (sms && strcmp(fate, "unsure") == 0) { /* the mail server takes no key */
            unsure++;
            check_unsure(world, message);
        }
        if (strcmp(json_string_value(json_object_get(message, "kind")), "reminder") == 0)
            assert_true(g_hash_table_add(asked, (char *)session));
    }
    print_message("%zu messages, %d being written at a kill, %d tried twice, %d unsure\n",
                  json_array_size(messages), (int)g_hash_table_size(world->being_written), repeated,
                  unsure);
    json_decref(messages);
}

/* Two days more without a kill; then whatever was under way has come to its end. */
static void finish(World *world)
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
    check_replies(world);
    check_sessions(world, &asked);
    check_messages(world);
    print_message(
        "%d kills, %d in the midst of a step; %d sessions asked, %u replies, %zu alerts open\n",
        kills, world->cut_short, asked, g_hash_table_size(world->sent_in), json_array_size(alerts));
    json_decref(alerts);
    assert_int_equal(site_stop(world->site), 0);
    check_sound(world);
}

static void run(Speech speech)
{
    World world = {.site = site_new(),
                   .gateway = stand_in_new(speech_map(speech)),
                   .port = site_free_port(),
                   .speech = speech,
                   .random = g_rand_new_with_seed(seed),
                   .step_us = 200000,
                   .sent_in = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL),
                   .being_written = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL)};

    print_message("seed %u\n", seed);
    assert_true(instant_parse(START, &world.now_ms));
    site_use(world.site, world.gateway, speech, world.port);
    go_on(&world);
    for (int i = 0; i < CLIENTS; i++) {
        g_autofree char *phone = phone_of(i);
        world.clients[i] = site_client(world.site, phone, i % 2 ? "09:00,17:00" : "09:30,17:00");
    }
    for (int i = 0; i < kills; i++) {
        answer_by_poll(&world);
        take_up_alerts(&world);
        step_and_kill(&world);
        note_being_written(&world);
        check_sound(&world);
        go_on(&world);
    }
    finish(&world);
    for (int i = 0; i < CLIENTS; i++)
        g_free(world.clients[i]);
    g_hash_table_unref(world.sent_in);
    g_hash_table_unref(world.being_written);
    g_rand_free(world.random);
    site_free(world.site);
    stand_in_free(world.gateway);
}

static void a_gateway_that_takes_keys(void **state)
{
    (void)state;
    run(SPEAKS_FORM);
}

static void a_gateway_that_takes_none(void **state)
{
    (void)state;
    run(SPEAKS_JSON);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_gateway_that_takes_keys),
        cmocka_unit_test(a_gateway_that_takes_none),
    };

    if (argc > 1) kills = MAX(1, atoi(argv[1]));
    if (argc > 2) seed = (guint32)strtoul(argv[2], NULL, 10);
    return cmocka_run_group_tests(tests, NULL, NULL);
}
