/* SPDX-License-Identifier: Apache-2.0 */
/* Devices that are not as they should be: full, and failing. */
#define _GNU_SOURCE /* unshare */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <errno.h>
#include <glib/gstdio.h>
#include <sched.h>
#include <string.h>
#include <sys/mount.h>

#include "tests/support/json_look.h"
#include "tests/support/site_gateway.h"
#include "tests/support/site_page.h"

#define CLOCK "2026-03-02T08:05:00Z"

static void fill_up(const char *path)
{
    static const char PAGE[4096] = {1};
    FILE *file = fopen(path, "w");

    assert_non_null(file);
    setvbuf(file, NULL, _IONBF, 0);
    while (fwrite(PAGE, 1, sizeof PAGE, file) == sizeof PAGE)
        continue;
    fclose(file);
}

static long post(int port, int number)
{
    g_autofree char *body = g_strdup_printf(
        "{\"msg\":{\"uid\":%d,\"who\":\"+442079460001\",\"content\":\"thanks %0900d\"}}", number,
        1);

    return site_post(port, "/in/texts", NULL, body, strlen(body));
}

/* Whom to ring, and that the device is full, is read all the same. Whether the next small thing can still be written is the
 * device's own secret. */
static void looked_up_all_the_same(Site *site, const char *ben)
{
    json_t *alerts = site_ask(site, "alerts");
    look_is(look_only(alerts, "client", ben), "class", "now");
    json_decref(alerts);
    json_t *calls = site_ask(site, "calls");
    assert_int_equal(json_array_size(calls), 1);
    json_decref(calls);
    json_decref(site_ask(site, "client show %s", ben));
    json_t *standing = site_ask(site, "status");
    look_is(standing, "state", "ill");
    json_decref(standing);
    g_autofree char *told = site_told(site, "status");
    assert_non_null(strstr(told, "! The device of the clinic's folder is nearly full: 0 MB"));
}

/* Who could log in still can, though the accounts are read anew; and calendars are handed out. */
static void entered_all_the_same(Site *site, int page, const char *calendar)
{
    assert_int_equal(site_page_log_in(page, "R. Okafor"), 200);
    site_reload(site);
    json_decref(site_ask(site, "status")); /* once this is answered, accounts have been read */
    assert_int_equal(site_page_log_in(page, "R. Okafor"), 200);
    assert_int_equal(site_page_get(page, calendar), 200);
}

static void on_a_full_device(Site *site, StandIn *gateway, int port)
{
    g_autofree char *filler = g_build_filename(site->clinic, "filler", NULL);
    int taken = 0, refused = 0, page = site_free_port();

    site_use(site, gateway, SPEAKS_JSON, port);
    site_use_page(site, page);
    assert_int_equal(site_start(site, CLOCK), 0);
    g_autofree char *ada = site_client(site, "+442079460001", "08:30");
    g_autofree char *ben = site_client(site, "+442079460002", "08:30");
    site_page_welcome(site, page, "R. Okafor");
    json_t *link = site_ask(site, "records calendar %s --link --by Okafor", ben);
    g_autofree char *calendar = look_copy(link, "link");
    json_decref(link);
    assert_int_equal(post(port, 0), 200);
    json_decref(site_ask(site, "alert open %s --kind heart --words 'chest' --by Okafor", ben));
    fill_up(filler);
    for (int i = 1; i < 200 && refused < 3; i++) {
        long status = post(port, i);
        assert_true(status == 200 || status == 503);
        taken += status == 200;
        refused += status == 503;
    }
    assert_int_equal(refused, 3);
    assert_true(site_clock(site, "2026-03-02T08:06:00Z")); /* time goes on all the same */
    site_fails(site, 75, "no room", "client set %s --needs 'a chair with arms'", ada);
    looked_up_all_the_same(site, ben);
    entered_all_the_same(site, page, calendar);
    assert_int_equal(g_unlink(filler), 0);
    assert_int_equal(post(port, 500), 200);
    assert_true(site_clock(site, "2026-03-02T08:40:00Z"));
    json_t *replies = site_ask(site, "replies");
    assert_int_equal(json_array_size(replies), taken + 2);
    json_decref(replies);
    assert_int_equal(stand_in_sent(gateway, "+442079460001", "time for", NULL), 1);
    assert_int_equal(site_stop(site), 0);
    json_t *checked = site_ask(site, "check");
    look_json(checked, "{\"sound\":true}");
    json_decref(checked);
}

static void a_full_device(void **state)
{
    Site *site = site_new();
    StandIn *gateway = stand_in_new(speech_map(SPEAKS_JSON));

    (void)state;
    /* Seen by this program and what it starts, and gone with them. */
    if (unshare(CLONE_NEWNS) != 0 || mount(NULL, "/", NULL, MS_REC | MS_PRIVATE, NULL) != 0 ||
        mount("tmpfs", site->clinic, "tmpfs", 0, "size=3m,mode=0700") != 0) {
        print_message("left out: no small device can be mounted here: %s\n", g_strerror(errno));
        site_free(site);
        stand_in_free(gateway);
        skip();
    }
    g_autofree char *secrets = g_build_filename(site->clinic, "secrets", NULL);
    assert_int_equal(g_mkdir(secrets, 0700), 0);
    on_a_full_device(site, gateway, site_free_port());
    assert_int_equal(umount(site->clinic), 0);
    site_free(site);
    stand_in_free(gateway);
}

/* A bound on the files' size is an error of the device, not a lack of room: osierd stops, says so, and
 * what it had acknowledged is there. */
static void a_device_that_fails(void **state)
{
    Site *site = site_new();
    StandIn *gateway = stand_in_new(speech_map(SPEAKS_JSON));
    int port = site_free_port();
    int taken = 0;

    (void)state;
    site_use(site, gateway, SPEAKS_JSON, port);
    assert_int_equal(site_start_bounded(site, CLOCK, 900 * 1024), 0);
    while (taken < 2000 && post(port, taken) == 200)
        taken++;
    assert_true(taken > 0 && taken < 2000);
    assert_int_equal(site_wait(site), 74);
    g_autofree char *said = site_said(site);
    assert_non_null(strstr(said, "run osier check"));
    json_t *checked = site_ask(site, "check");
    look_json(checked, "{\"sound\":true}");
    json_decref(checked);
    assert_int_equal(site_start(site, CLOCK), 0);
    json_t *replies = site_ask(site, "replies");
    print_message("%d taken, %zu there\n", taken, json_array_size(replies));
    assert_true((int)json_array_size(replies) >= taken);
    json_decref(replies);
    assert_int_equal(site_stop(site), 0);
    site_free(site);
    stand_in_free(gateway);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_full_device),
        cmocka_unit_test(a_device_that_fails),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
