/* SPDX-License-Identifier: Apache-2.0 */
/* The digest on its way: gathered in one job, drawn off the loop and off the store's thread, posted in another; and what is lost
 * between them is made again. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "adapters/net/net_memory.h"
#include "adapters/store/find_record.h"
#include "adapters/store/find_work.h"
#include "adapters/store/store_memory.h"
#include "daemon/daemon.h"
#include "daemon/jobs/digest.h"
#include "tests/support/folder.h"

static const char SETTINGS[] =
    "clinic:\n"
    "  name: Alder Row Physiotherapy\n"
    "  zone: Europe/London\n"
    "  language: en\n"
    "  phone: \"+442079460100\"\n"
    "  emergency: \"999\"\n"
    "  country_code: \"44\"\n"
    "  hours: {mon-fri: \"08:30-17:30\"}\n"
    "  quiet: \"21:00-08:00\"\n"
    "  digest: {day: monday, at: \"08:00\", to: [desk@clinic.example, lead@clinic.example]}\n"
    "duty:\n"
    "  - {name: R. Okafor, sms: \"+442079460190\"}\n"
    "gateways:\n"
    "  box: {kind: spool}\n";

#define MONDAY_MS 1773043200000 /* 2026-03-09T08:00Z, by date -u -d ... +%s */

typedef struct {
    char *folder;
    uv_loop_t loop;
    Settings *settings;
    Store *store;
    Random *random;
    Net *net;
    Clock *clock;
    Daemon *daemon;
    DigestDraft *draft;
    int mails;
    int64_t next_ms;
    bool on_its_way;
} Scene;

static int set_up(void **state)
{
    Scene *scene = g_new0(Scene, 1);
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);

    scene->folder = folder_new();
    folder_write(scene->folder, "clinic.yaml", SETTINGS, -1, 0600);
    folder_room(scene->folder, "spool");
    scene->settings = settings_load(scene->folder, messages);
    assert_non_null(scene->settings);
    scene->store = store_memory_new("00000000000000a1", MONDAY_MS - DAY_MS);
    scene->random = random_seeded_new(7);
    scene->net = net_memory_new(&(NetMemoryOptions){0});
    uv_loop_init(&scene->loop);
    *state = scene;
    return 0;
}

static int tear_down(void **state)
{
    Scene *scene = *state;
    const char *what;

    daemon_stop(scene->daemon);
    while (daemon_holds(scene->daemon, &what) > 0) {
        uv_run(&scene->loop, UV_RUN_NOWAIT);
        store_memory_pump(scene->store);
    }
    digest_draft_free(scene->draft);
    daemon_free(scene->daemon);
    scene->net->close(scene->net);
    scene->store->close(scene->store);
    random_free(scene->random);
    clock_free(scene->clock);
    while (uv_run(&scene->loop, UV_RUN_NOWAIT) != 0)
        continue;
    assert_int_equal(uv_loop_close(&scene->loop), 0);
    settings_unref(scene->settings);
    folder_remove(scene->folder);
    g_free(scene);
    return 0;
}

static void open_daemon(Scene *scene, Clock *clock)
{
    scene->clock = clock;
    scene->daemon = daemon_new(&(DaemonPorts){.clock = clock,
                                              .random = scene->random,
                                              .store = scene->store,
                                              .net = scene->net,
                                              .dir = scene->folder,
                                              .loop = &scene->loop},
                               scene->settings, NULL, NULL);
}

static bool look_job(Job *job, void *context)
{
    Scene *scene = context;
    g_autoptr(GPtrArray) due = find_due_kind(job->tx, "digest");
    g_autoptr(GPtrArray) messages = find_messages(job->tx, NULL, 0);

    assert_int_equal(due->len, 1);
    scene->next_ms = row_int(due->pdata[0], DUE_AT);
    scene->on_its_way = row_text(due->pdata[0], DUE_BODY) != NULL;
    g_autoptr(GPtrArray) waiting = tx_rows(job->tx, TABLE_OUTBOX, "1 = 1 ORDER BY id", "");
    scene->mails = 0;
    for (guint i = 0; i < waiting->len; i++)
        scene->mails += strcmp(row_text(waiting->pdata[i], OUTBOX_KIND), "digest") == 0;
    for (guint i = 0; i < messages->len; i++)
        scene->mails += strcmp(row_text(messages->pdata[i], MESSAGE_KIND), "digest") == 0;
    return true;
}

static void run(Scene *scene, JobRun *job)
{
    desk_submit(daemon_desk(scene->daemon), job, NULL, scene);
    store_memory_pump(scene->store);
}

/* --- by itself --- */

static void it_is_drawn_elsewhere_and_posted(void **state)
{
    Scene *scene = *state;
    const char *what;

    open_daemon(scene, clock_fast_new(&scene->loop, MONDAY_MS - 100, 1));
    daemon_start(scene->daemon);
    run(scene, look_job);
    assert_int_equal(scene->next_ms, MONDAY_MS);
    bool drawing = false;
    while (scene->mails == 0 || scene->on_its_way) {
        uv_run(&scene->loop, UV_RUN_NOWAIT); /* what it brings waits for the pump */
        store_memory_pump(scene->store);
        if (painter_busy(daemon_painter(scene->daemon)) > 0) {
            drawing = true;
            assert_true(daemon_holds(scene->daemon, &what) > 0);
            assert_string_equal(what, "a drawing");
        }
        if (clock_now(scene->clock) >= MONDAY_MS) run(scene, look_job);
    }
    assert_true(drawing);
    assert_int_equal(scene->mails, 2);
    assert_false(scene->on_its_way);
    assert_int_equal(scene->next_ms, MONDAY_MS + 7 * DAY_MS);
}

/* --- lost on the way, as by a power cut while it is drawn --- */

static bool begin_job(Job *job, void *context)
{
    Scene *scene = context;

    digest_draft_free(scene->draft);
    scene->draft = digest_begin(job);
    return true;
}

static bool schedule_job(Job *job, void *context)
{
    (void)context;
    digest_schedule(job);
    return true;
}

static bool post_job(Job *job, void *context)
{
    Scene *scene = context;

    if (scene->draft->html == NULL) scene->draft->html = g_strdup("<p>drawn</p>");
    digest_post(job, scene->draft);
    return true;
}

static void what_is_lost_on_the_way_is_made_again(void **state)
{
    Scene *scene = *state;

    open_daemon(scene, clock_stepped_new(MONDAY_MS));
    run(scene, begin_job);
    run(scene, schedule_job); /* as at the next start */
    run(scene, look_job);
    assert_int_equal(scene->mails, 0);
    assert_true(scene->on_its_way);
    assert_in_range(scene->next_ms, MONDAY_MS + 1, MONDAY_MS + HOUR_MS);
    clock_move(scene->clock, scene->next_ms);
    run(scene, begin_job);
    run(scene, post_job);
    run(scene, look_job);
    assert_int_equal(scene->mails, 2);
    assert_int_equal(scene->next_ms, MONDAY_MS + 7 * DAY_MS);
    run(scene, post_job); /* one that took its time comes after all */
    run(scene, look_job);
    assert_int_equal(scene->mails, 2);
}

/* --- what osier had misread --- */

/* A reply of the week with osier's reading and the one that a person settled it with; settled "null": nothing to count. */
static void put_reply(Job *job, const char *id, const char *read, const char *settled)
{
    tx_append(job->tx, "reply.received", id, "osier", NULL,
              json_pack("{s:I, s:I, s:s, s:s, s:s}", "at", (json_int_t)(MONDAY_MS - DAY_MS),
                        "arrived", (json_int_t)(MONDAY_MS - DAY_MS), "from", "+447700900001",
                        "channel", "sms", "text", "done them"));
    tx_append(job->tx, "reply.read", id, "osier", NULL,
              json_pack("{s:o, s:s}", "reading", json_loads(read, JSON_DECODE_ANY, NULL), "state",
                        "unread"));
    tx_append(job->tx, "reply.settled", id, "R. Okafor", NULL,
              json_pack("{s:s, s:o}", "by", "R. Okafor", "reading",
                        json_loads(settled, JSON_DECODE_ANY, NULL)));
}

static bool misread_job(Job *job, void *context)
{
    Day monday;

    (void)context;
    put_reply(job, "r1", "{\"done\":\"yes\",\"intensity\":4}",
              "{\"done\":\"yes\",\"intensity\":4,\"pain\":0}");
    put_reply(job, "r2", "{\"done\":\"yes\",\"intensity\":4}",
              "{\"done\":\"yes\",\"intensity\":7}");
    put_reply(job, "r3", "{\"done\":null,\"intensity\":null}",
              "{\"done\":\"not\",\"intensity\":null}");
    put_reply(job, "r4", "{\"done\":\"yes\"}", "null");
    assert_true(day_parse("2026-03-09", &monday));
    g_autoptr(Digest) digest = digest_gather(job, monday);
    assert_int_equal(digest->settled, 4);
    assert_int_equal(digest->missed, 1);
    return true;
}

static void only_what_a_person_read_otherwise_was_misread(void **state)
{
    Scene *scene = *state;

    open_daemon(scene, clock_stepped_new(MONDAY_MS));
    run(scene, misread_job);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(it_is_drawn_elsewhere_and_posted, set_up, tear_down),
        cmocka_unit_test_setup_teardown(what_is_lost_on_the_way_is_made_again, set_up, tear_down),
        cmocka_unit_test_setup_teardown(only_what_a_person_read_otherwise_was_misread, set_up,
                                        tear_down),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
