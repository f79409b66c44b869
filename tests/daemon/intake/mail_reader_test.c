/* SPDX-License-Identifier: Apache-2.0 */
/* Mail is read by libuv's workers and not on the loop. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "adapters/mail/compose.h"
#include "daemon/intake/mail_reader.h"

enum { WORKERS = 4 }; /* of libuv, where nothing says otherwise */

typedef struct {
    uv_loop_t loop;
    uv_sem_t gate; /* workers wait here */
    uv_work_t waiting[WORKERS];
    MailReader *reader;
    MailIn *in;
} World;

static int world_open(void **state)
{
    World *world = g_new0(World, 1);

    assert_int_equal(uv_loop_init(&world->loop), 0);
    assert_int_equal(uv_sem_init(&world->gate, 0), 0);
    world->reader = mail_reader_new(&world->loop);
    *state = world;
    return 0;
}

static int world_close(void **state)
{
    World *world = *state;

    uv_run(&world->loop, UV_RUN_DEFAULT);
    assert_int_equal(uv_loop_close(&world->loop), 0);
    uv_sem_destroy(&world->gate);
    mail_in_free(world->in);
    g_free(world);
    return 0;
}

static void wait_at_gate(uv_work_t *work)
{
    uv_sem_wait(&((World *)work->data)->gate);
}

static void hold_workers(World *world)
{
    for (int i = 0; i < WORKERS; i++) {
        world->waiting[i].data = world;
        assert_int_equal(uv_queue_work(&world->loop, &world->waiting[i], wait_at_gate, NULL), 0);
    }
}

static void free_workers(World *world)
{
    for (int i = 0; i < WORKERS; i++)
        uv_sem_post(&world->gate);
}

static void keep(MailIn *in, void *context)
{
    World *world = context;

    assert_null(world->in);
    world->in = in;
}

static void read_one(World *world, MailReader *reader, bool whole)
{
    static const char mail[] = "From: ada@client.example\r\n\r\nDone, a 4\r\n";
    g_autoptr(GBytes) bytes = g_bytes_new(mail, strlen(mail));

    mail_reader_read(reader, bytes, whole, keep, world);
}

static void read_by_a_worker_and_told_on_the_loop(void **state)
{
    World *world = *state;

    hold_workers(world);
    read_one(world, world->reader, true);
    /* As long as no worker is free the loop turns and nothing is read. */
    for (int i = 0; i < 100; i++)
        assert_int_not_equal(uv_run(&world->loop, UV_RUN_NOWAIT), 0);
    assert_null(world->in);
    free_workers(world);
    uv_run(&world->loop, UV_RUN_DEFAULT);
    assert_string_equal(world->in->incoming->text, "Done, a 4\n");
    assert_null(world->in->incoming->problem);
    mail_reader_close(world->reader);
}

static void one_after_the_other(void **state)
{
    World *world = *state;

    for (int i = 0; i < 3; i++) {
        read_one(world, world->reader, i % 2 == 0);
        uv_run(&world->loop, UV_RUN_DEFAULT);
        assert_int_equal(world->in->incoming->problem != NULL, i % 2);
        g_clear_pointer(&world->in, mail_in_free);
    }
    mail_reader_close(world->reader);
}

static void closed_while_it_reads(void **state)
{
    World *world = *state;

    hold_workers(world);
    read_one(world, world->reader, true);
    mail_reader_close(world->reader);
    free_workers(world);
    uv_run(&world->loop, UV_RUN_DEFAULT);
    assert_null(world->in);
}

static void without_a_loop_on_the_spot(void **state)
{
    World *world = *state;
    MailReader *reader = mail_reader_new(NULL);

    read_one(world, reader, true);
    assert_string_equal(world->in->incoming->text, "Done, a 4\n");
    mail_reader_close(reader);
    mail_reader_close(world->reader);
}

#define CASE(name) cmocka_unit_test_setup_teardown(name, world_open, world_close)

int main(void)
{
    const struct CMUnitTest tests[] = {
        CASE(read_by_a_worker_and_told_on_the_loop),
        CASE(one_after_the_other),
        CASE(closed_while_it_reads),
        CASE(without_a_loop_on_the_spot),
    };
    g_unsetenv("UV_THREADPOOL_SIZE");
    mail_start();
    return cmocka_run_group_tests(tests, NULL, NULL);
}
