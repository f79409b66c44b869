/* SPDX-License-Identifier: Apache-2.0 */
/* The calendar that a client's program follows by a link: what it says, who gets it, and how it ends. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>
#include <curl/curl.h>
#include <string.h>

#include "tests/support/json_look.h"
#include "tests/support/settings.h"
#include "tests/support/site_gateway.h"
#include "tests/support/site_schema.h"

#define HOST "page.clinic.example"
#define BY "--by 'R. Okafor'"

typedef struct {
    Site *site;
    int port;
    char *ada;
} House;

static House house_new(const char *url)
{
    House house = {.site = site_new(), .port = site_free_port()};
    g_autofree char *page =
        g_strdup_printf("page: {listen: \"127.0.0.1:%d\"%s}\n", house.port, url);
    g_autofree char *yaml = settings_plain("Saltmarsh Lane Physiotherapy", "", page);

    site_settings(house.site, yaml);
    return house;
}

static void house_start(House *house)
{
    assert_int_equal(site_start(house->site, "2026-03-02T08:05:00Z"), 0);
    json_decref(site_ask(house->site, "account add 'R. Okafor' --role clinician"));
}

static House house_open(const char *url)
{
    House house = house_new(url);

    house_start(&house);
    house.ada = site_client(house.site, "+447700900001", "08:30");
    return house;
}

static void house_close(House *house)
{
    g_free(house->ada);
    site_free(house->site);
}

static size_t keep(char *bytes, size_t size, size_t n, void *context)
{
    g_string_append_len(context, bytes, (gssize)(size * n));
    return size * n;
}

/* Follows a link, at this machine: the status, and what was answered, with its head where that is wanted (g_free). */
static long follow_whole(const House *house, const char *link, bool head, char **answered)
{
    const char *path = strstr(link, HOST) + strlen(HOST);
    g_autofree char *url = g_strdup_printf("http://127.0.0.1:%d%s", house->port, path);
    g_autoptr(GString) heard = g_string_new(NULL);
    struct curl_slist *list = curl_slist_append(NULL, "Host: " HOST);
    CURL *curl = curl_easy_init();
    long status = 0;

    curl_easy_setopt(curl, CURLOPT_URL, url);
    curl_easy_setopt(curl, CURLOPT_HTTPHEADER, list);
    curl_easy_setopt(curl, CURLOPT_WRITEFUNCTION, keep);
    curl_easy_setopt(curl, CURLOPT_WRITEDATA, heard);
    curl_easy_setopt(curl, CURLOPT_HEADER, head ? 1L : 0L);
    curl_easy_setopt(curl, CURLOPT_PATH_AS_IS, 1L);
    curl_easy_setopt(curl, CURLOPT_TIMEOUT, 60L);
    assert_int_equal(curl_easy_perform(curl), CURLE_OK);
    curl_easy_getinfo(curl, CURLINFO_RESPONSE_CODE, &status);
    curl_slist_free_all(list);
    curl_easy_cleanup(curl);
    if (answered != NULL) *answered = g_strdup(heard->str);
    return status;
}

static long follow(const House *house, const char *link, char **answered)
{
    return follow_whole(house, link, false, answered);
}

static char *new_link(House *house)
{
    json_t *made = site_ask(house->site, "records calendar %s --link " BY, house->ada);
    char *link = look_copy(made, "link");

    json_decref(made);
    assert_true(g_str_has_prefix(link, "https://" HOST "/calendar/"));
    return link;
}

static void a_link_tells_when_and_nothing_else(void **state)
{
    static const char *const NOT_SAID[] = {"Ada", "Saltmarsh", "stretch", "pain",
                                           "+44", "calf",      "clinic",  "STOP"};
    House house = house_open(", url: \"https://" HOST "\"");
    g_autofree char *link = new_link(&house);
    g_autofree char *file = NULL;

    (void)state;
    assert_int_equal(follow(&house, link, &file), 200);
    assert_non_null(strstr(file, "BEGIN:VCALENDAR"));
    assert_non_null(strstr(file, "DTSTART;TZID=Europe/London:20260302T083000"));
    assert_non_null(strstr(file, "SUMMARY:Your session"));
    assert_null(strstr(file, house.ada));
    /* The feed's own address stands in it (RFC 7986 SOURCE). */
    char *source = strstr(file, "SOURCE");
    assert_non_null(source);
    char *end = strstr(source, "BEGIN:");
    memset(source, ' ', (size_t)(end - source));
    for (size_t i = 0; i < G_N_ELEMENTS(NOT_SAID); i++)
        assert_null(strstr(file, NOT_SAID[i]));
    house_close(&house);
}

static void a_wrong_link_leads_nowhere(void **state)
{
    static const char *const WRONG[] = {
        "https://" HOST "/calendar/AAAAAAAAAAAAAAAAAAAAAA.ics", "https://" HOST "/calendar/.ics",
        "https://" HOST "/calendar/%.ics", "https://" HOST "/calendar/../today.ics"};
    House house = house_open(", url: \"https://" HOST "\"");
    g_autofree char *first = new_link(&house);
    g_autofree char *second = new_link(&house); /* and the first is void */

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(WRONG); i++) {
        long status = follow(&house, WRONG[i], NULL);
        assert_true(status >= 400 && status < 500);
    }
    assert_int_equal(follow(&house, WRONG[0], NULL), 404);
    assert_int_equal(follow(&house, first, NULL), 404);
    assert_int_equal(follow(&house, second, NULL), 200);
    json_decref(site_ask(house.site, "records calendar %s --revoke " BY, house.ada));
    assert_int_equal(follow(&house, second, NULL), 404);
    site_fails(house.site, 66, "none to take back", "records calendar %s --revoke", house.ada);
    g_autofree char *third = new_link(&house);
    assert_int_equal(follow(&house, third, NULL), 200);
    json_decref(site_ask(house.site, "client erase %s " BY " --why 'early: asked'", house.ada));
    assert_int_equal(follow(&house, third, NULL), 404);
    house_close(&house);
}

static void no_alarm_rings_on_hold(void **state)
{
    House house = house_open(", url: \"https://" HOST "\"");
    g_autofree char *link = new_link(&house);
    g_autofree char *before = NULL, *during = NULL, *after = NULL;

    (void)state;
    assert_int_equal(follow(&house, link, &before), 200);
    assert_non_null(strstr(before, "BEGIN:VALARM"));
    json_t *alert =
        site_ask(house.site, "alert open %s --kind fall --words 'she slipped' " BY, house.ada);
    g_autofree char *id = look_copy(alert, "alert");
    json_decref(alert);
    assert_int_equal(follow(&house, link, &during), 200);
    assert_null(strstr(during, "BEGIN:VEVENT"));
    json_decref(site_ask(house.site, "alert close %s --outcome resume " BY, id));
    assert_int_equal(follow(&house, link, &after), 200);
    assert_non_null(strstr(after, "BEGIN:VALARM"));
    house_close(&house);
}

static void who_asks_without_end_is_slowed_down(void **state)
{
    House house = house_open(", url: \"https://" HOST "\"");
    g_autofree char *link = new_link(&house);
    int good = 0, later = 0;

    (void)state;
    for (int i = 0; i < 20; i++) {
        long status = follow(&house, link, NULL);
        good += status == 200;
        later += status == 429;
    }
    assert_int_equal(good + later, 20);
    assert_true(good >= 10 && later >= 9);
    /* Turned away, a browser is told as much as else. */
    g_autofree char *told = NULL;
    assert_int_equal(follow_whole(&house, link, true, &told), 429);
    assert_non_null(strstr(told, "Retry-After: 60"));
    assert_non_null(strstr(told, "Content-Security-Policy: default-src 'none'"));
    assert_non_null(strstr(told, "X-Content-Type-Options: nosniff"));
    assert_non_null(strstr(told, "Cache-Control: no-store"));
    house_close(&house);
}

/* Nothing is known of the link meanwhile; whoever follows it comes back by itself. */
static void while_the_store_is_away_it_is_said_when_to_come_back(void **state)
{
    House house = house_new(", url: \"https://" HOST "\"");
    g_autofree char *schema = pg_server_schema();
    g_autofree char *told = NULL;

    (void)state;
    site_use_schema(house.site, schema);
    house_start(&house);
    pg_server_stop();
    assert_int_equal(
        follow_whole(&house, "https://" HOST "/calendar/AAAAAAAAAAAAAAAAAAAAAA.ics", true, &told),
        503);
    assert_non_null(strstr(told, "Retry-After: 60"));
    pg_server_start(NULL);
    house_close(&house);
}

static void a_page_that_is_not_public_has_no_links(void **state)
{
    House house = house_open("");

    (void)state;
    site_fails(house.site, 78, "not public", "records calendar %s --link", house.ada);
    site_fails(house.site, 64, "--link", "records calendar %s", house.ada);
    house_close(&house);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_link_tells_when_and_nothing_else),
        cmocka_unit_test(a_wrong_link_leads_nowhere),
        cmocka_unit_test(no_alarm_rings_on_hold),
        cmocka_unit_test(who_asks_without_end_is_slowed_down),
        cmocka_unit_test(while_the_store_is_away_it_is_said_when_to_come_back),
        cmocka_unit_test(a_page_that_is_not_public_has_no_links),
    };

    return cmocka_run_group_tests(tests, NULL, NULL);
}
