/* SPDX-License-Identifier: Apache-2.0 */
/* The real osierd on a schema of a real PostgreSQL server: the thread through everything, and a clinic that moves there and
 * back. Monday 2 March 2026; London is at UTC. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <string.h>

#include "tests/support/json_look.h"
#include "tests/support/site_gateway.h"
#include "tests/support/site_page.h"
#include "tests/support/site_schema.h"

#define ADA "+442079460001"
#define OKAFOR "+442079460190"
#define MORNING "2026-03-02T08:05:00Z"

typedef struct {
    Site *site;
    StandIn *gateway;
    char *schema;
    char *ada;
} House;

static House house_make(void)
{
    House house = {.site = site_new(),
                   .gateway = stand_in_new(speech_map(SPEAKS_JSON)),
                   .schema = pg_server_schema()};

    site_use(house.site, house.gateway, SPEAKS_JSON, site_free_port());
    return house;
}

static void house_close(House *house)
{
    g_free(house->ada);
    g_free(house->schema);
    site_free(house->site);
    stand_in_free(house->gateway);
}

static void to(const House *house, const char *instant)
{
    assert_true(site_clock(house->site, instant));
}

static void check_sound(const House *house)
{
    json_t *checked = site_ask(house->site, "check");

    look_json(checked, "{\"sound\":true}");
    json_decref(checked);
}

static void a_reminder_goes_out_a_reply_comes_in_and_a_clinician_is_called(void **state)
{
    House house = house_make();

    (void)state;
    site_use_schema(house.site, house.schema);
    assert_int_equal(site_start(house.site, MORNING), 0);
    house.ada = site_client(house.site, ADA, "08:30");
    to(&house, "2026-03-02T08:31:00Z");
    assert_int_equal(stand_in_sent(house.gateway, ADA, "time for your stretches", NULL), 1);
    stand_in_put(house.gateway, ADA, "D 4 P0", "2026-03-02T08:40:00Z");
    to(&house, "2026-03-02T08:45:00Z");
    stand_in_put(house.gateway, ADA, "I slipped and fell in the hall", "2026-03-02T09:10:00Z");
    to(&house, "2026-03-02T09:30:00Z");

    json_t *sessions = site_ask(house.site, "sessions %s --from 2026-03-02 --days 1", house.ada);
    look_is(json_array_get(sessions, 0), "state", "done");
    json_t *alerts = site_ask(house.site, "alerts");
    assert_int_equal(json_array_size(alerts), 1);
    look_json(json_array_get(alerts, 0), "{\"kind\":\"fall\",\"state\":\"open\"}");
    assert_true(stand_in_sent(house.gateway, OKAFOR, NULL, NULL) > 0);
    json_decref(sessions);
    json_decref(alerts);

    /* The hold binds the next day as well, after a restart. */
    assert_int_equal(site_stop(house.site), 0);
    check_sound(&house);
    assert_int_equal(site_start(house.site, "2026-03-02T09:31:00Z"), 0);
    to(&house, "2026-03-03T09:00:00Z");
    assert_int_equal(stand_in_sent(house.gateway, ADA, "time for your stretches", NULL), 1);
    house_close(&house);
}

/* Who shares a phone is asked for all that are reminded at once. */
static void two_who_share_a_phone_are_told_apart(void **state)
{
    House house = house_make();
    const char *const pair = "+442079460005";

    (void)state;
    site_use_schema(house.site, house.schema);
    assert_int_equal(site_start(house.site, MORNING), 0);
    house.ada = site_client(house.site, ADA, "08:30");
    g_autofree char *one = site_client(house.site, pair, "08:30");
    g_autofree char *other = site_client(house.site, pair, "08:30");
    to(&house, "2026-03-02T08:31:00Z");
    assert_int_equal(stand_in_sent(house.gateway, pair, "like F D 4 P0", NULL), 1);
    assert_int_equal(stand_in_sent(house.gateway, pair, "like G D 4 P0", NULL), 1);
    assert_int_equal(stand_in_sent(house.gateway, ADA, "like D 4 P0", NULL), 1);
    stand_in_put(house.gateway, pair, "G D 4 P0", NULL);
    to(&house, "2026-03-02T08:40:00Z");
    json_t *replies = site_ask(house.site, "replies --client %s", other);
    assert_int_equal(json_array_size(replies), 1);
    json_decref(replies);
    house_close(&house);
}

/* What the command line is told is not about a device, and the reminder goes out when the server is back. */
static void a_server_that_is_away_is_called_that(void **state)
{
    House house = house_make();
    json_t *fault;
    long status;

    (void)state;
    site_use_schema(house.site, house.schema);
    assert_int_equal(site_start(house.site, MORNING), 0);
    house.ada = site_client(house.site, ADA, "08:30");
    to(&house, "2026-03-02T08:06:00Z"); /* nothing is under way */
    /* the device of this folder says nothing of the server's */
    g_autoptr(GBytes) metrics = site_fetch(house.site, "/metrics", &status);
    assert_int_equal(status, 200);
    assert_null(g_strstr_len(g_bytes_get_data(metrics, NULL), (gssize)g_bytes_get_size(metrics),
                             "store_free"));
    pg_server_stop();
    site_fails(house.site, 75, "the store is away", "client set %s --needs chair", house.ada);
    fault = site_call(house.site, "GET", "/healthz", NULL, &status);
    assert_int_equal(status, 503);
    json_decref(fault);
    to(&house, "2026-03-02T08:31:00Z");
    assert_int_equal(stand_in_sent(house.gateway, ADA, "time for your stretches", NULL), 0);
    g_autofree char *said = site_said(house.site);
    assert_non_null(strstr(said, "event=store.away"));
    pg_server_start(NULL);
    to(&house, "2026-03-02T08:33:00Z");
    assert_int_equal(stand_in_sent(house.gateway, ADA, "time for your stretches", NULL), 1);
    house_close(&house);
}

static void settings_with_page(const House *house, int port)
{
    site_use(house->site, house->gateway, SPEAKS_JSON, site_free_port());
    site_use_schema(house->site, house->schema);
    site_use_page(house->site, port);
}

/* Who may enter cannot be read: that nobody may would be wrong. When the server is back it is read, and new settings hold. */
static void who_could_log_in_still_can_while_the_server_is_away(void **state)
{
    House house = house_make();
    int old = site_free_port(), fresh = site_free_port();

    (void)state;
    settings_with_page(&house, old);
    assert_int_equal(site_start(house.site, MORNING), 0);
    site_page_welcome(house.site, old, "R. Okafor");
    to(&house, "2026-03-02T08:06:00Z");
    pg_server_stop();
    settings_with_page(&house, fresh);
    site_reload(house.site);
    site_fails(house.site, 75, "the store is away", "alerts");
    assert_int_equal(site_page_log_in(old, "R. Okafor"), 200);
    assert_int_equal(site_page_get(fresh, "/"), 0);
    pg_server_start(NULL);
    to(&house, "2026-03-02T08:08:00Z");
    assert_int_equal(site_page_log_in(fresh, "R. Okafor"), 200);
    assert_int_equal(site_page_get(old, "/"), 0);
    house_close(&house);
}

static void a_clinic_moves_to_a_schema_and_back(void **state)
{
    House house = house_make();
    Site *site = house.site;

    (void)state;
    assert_int_equal(site_start(site, MORNING), 0);
    house.ada = site_client(site, ADA, "08:30");
    to(&house, "2026-03-02T08:31:00Z");
    site_fails(site, 78, "names no schema", "move --to postgres");
    site_use_schema(site, house.schema);
    site_fails(site, 75, "stop osierd first", "move --to postgres");
    site_stop(site);
    assert_int_equal(site_start(site, "2026-03-02T08:32:00Z"), 77);
    site_fails(site, 64, "must be postgres or sqlite", "move --to paper");
    site_fails(site, 64, "takes no words", "move --to postgres now");
    site_fails(site, 66, "no store there", "move --to sqlite");

    json_t *there = site_ask(site, "move --to postgres");
    site_fails(site, 66, "no store there", "move --to postgres");
    check_sound(&house);
    assert_int_equal(site_start(site, "2026-03-02T08:32:00Z"), 0);
    site_fails(site, 75, "stop osierd first", "move --to sqlite");
    site_fails(site, 75, "stop osierd first", "check");
    to(&house, "2026-03-03T08:31:00Z");
    assert_int_equal(stand_in_sent(house.gateway, ADA, "time for your stretches", NULL), 2);
    site_stop(site);

    json_t *back = site_ask(site, "move --to sqlite");
    assert_true(json_integer_value(json_object_get(back, "events")) >
                json_integer_value(json_object_get(there, "events")));
    json_decref(there);
    json_decref(back);
    assert_int_equal(site_start(site, "2026-03-03T08:32:00Z"), 77);
    site_leave_schema(site);
    assert_int_equal(site_start(site, "2026-03-03T08:32:00Z"), 0);
    to(&house, "2026-03-04T08:31:00Z");
    assert_int_equal(stand_in_sent(house.gateway, ADA, "time for your stretches", NULL), 3);
    house_close(&house);
}

static void a_copy_of_a_schema_is_put_into_another(void **state)
{
    House house = house_make();
    Site *site = house.site;
    g_autofree char *file = g_build_filename(site->root, "copy.db", NULL);
    g_autofree char *other = pg_server_schema();

    (void)state;
    site_use_schema(site, house.schema);
    assert_int_equal(site_start(site, MORNING), 0);
    house.ada = site_client(site, ADA, "08:30");
    json_decref(site_ask(site, "backup %s", file));
    site_fails(site, 75, "in use", "restore %s", file);
    site_stop(site);
    site_fails(site, 73, "another store is there", "restore %s", file);
    check_sound(&house);
    site_leave_schema(site);
    site_use_schema(site, other);
    json_t *restored = site_ask(site, "restore %s", file);
    look_is(restored, "store", other);
    json_decref(restored);
    check_sound(&house);
    assert_int_equal(site_start(site, "2026-03-02T08:10:00Z"), 0);
    to(&house, "2026-03-02T08:31:00Z");
    assert_int_equal(stand_in_sent(house.gateway, ADA, "time for your stretches", NULL), 0);
    json_decref(site_ask(site, "sender take --by 'R. Okafor'"));
    to(&house, "2026-03-03T08:31:00Z");
    assert_int_equal(stand_in_sent(house.gateway, ADA, "time for your stretches", NULL), 1);
    house_close(&house);
}

/* A reply's id is the gateway's, which numbers on from one life to the next, and what answers it has its own from there. */
static char *without_ids(const char *text)
{
    g_autoptr(GRegex) id = g_regex_new("^[0-9A-F]{8} ", G_REGEX_MULTILINE, 0, NULL);

    return g_regex_replace_literal(id, text, -1, 0, "", 0, NULL);
}

/* Many sessions at one instant, nudges among them, up to the day's most; one client answers, one is away. What was sent
 * and what became of each session, as text. */
static char *live_with_a_herd(bool on_server)
{
    static const char *const TIMES[] = {"08:30", "08:30,12:30", "08:30,12:30,16:30,20:30",
                                        "08:30,11:30,12:30"};
    enum { HERD = 8 };
    House house = house_make();
    char *ids[HERD];
    GString *told = g_string_new(NULL);

    house.site->seed = 11; /* ids are the same in both lives */
    if (on_server) site_use_schema(house.site, house.schema);
    assert_int_equal(site_start(house.site, MORNING), 0);
    for (int i = 0; i < HERD; i++) {
        g_autofree char *phone = g_strdup_printf("+44794600%04d", i);
        ids[i] = site_client(house.site, phone, TIMES[i % 4]);
    }
    json_decref(site_ask(house.site, "client set %s --zone America/New_York", ids[6]));
    json_decref(site_ask(house.site, "client pause %s --until 2026-03-03 --why away", ids[5]));
    to(&house, "2026-03-02T08:31:00Z");
    stand_in_put(house.gateway, "+447946000003", "D 4 P0", "2026-03-02T08:40:00Z");
    to(&house, "2026-03-04T09:00:00Z");
    for (int i = 0; i < HERD; i++) {
        g_autofree char *sessions =
            site_told(house.site, "sessions %s --from 2026-03-02 --days 3", ids[i]);
        g_autofree char *with_ids = site_told(house.site, "messages --client %s", ids[i]);
        g_autofree char *messages = without_ids(with_ids);
        g_string_append_printf(told, "%s\n%s\n%s\n", ids[i], sessions, messages);
        g_free(ids[i]);
    }
    site_stop(house.site);
    check_sound(&house);
    house_close(&house);
    return g_string_free(told, FALSE);
}

static void a_herd_is_met_alike_on_a_file_and_on_a_server(void **state)
{
    g_autofree char *on_file = live_with_a_herd(false), *on_server = live_with_a_herd(true);

    (void)state;
    assert_non_null(strstr(on_file, "reminder"));
    assert_non_null(strstr(on_file, "nudge"));
    g_auto(GStrv) lines = g_strsplit(on_file, "\n", -1), others = g_strsplit(on_server, "\n", -1);
    assert_int_equal(g_strv_length(lines), g_strv_length(others));
    for (guint i = 0; lines[i] != NULL; i++)
        assert_string_equal(lines[i], others[i]);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_reminder_goes_out_a_reply_comes_in_and_a_clinician_is_called),
        cmocka_unit_test(two_who_share_a_phone_are_told_apart),
        cmocka_unit_test(a_server_that_is_away_is_called_that),
        cmocka_unit_test(who_could_log_in_still_can_while_the_server_is_away),
        cmocka_unit_test(a_clinic_moves_to_a_schema_and_back),
        cmocka_unit_test(a_copy_of_a_schema_is_put_into_another),
        cmocka_unit_test(a_herd_is_met_alike_on_a_file_and_on_a_server),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
