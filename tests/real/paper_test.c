/* SPDX-License-Identifier: Apache-2.0 */
/* What people look at, asked of the real osierd: pictures and paper. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "tests/support/json_look.h"
#include "tests/support/site_gateway.h"

#define ADA "+442079460001"

typedef struct {
    Site *site;
    StandIn *gateway;
    char *ada;
} House;

static House house_open(void)
{
    House house = {.site = site_new(), .gateway = stand_in_new(speech_map(SPEAKS_FORM))};

    site_use(house.site, house.gateway, SPEAKS_FORM, site_free_port());
    assert_int_equal(site_start(house.site, "2026-03-02T08:05:00Z"), 0);
    house.ada = site_client(house.site, ADA, "09:30");
    return house;
}

static void house_close(House *house)
{
    g_free(house->ada);
    site_free(house->site);
    stand_in_free(house->gateway);
}

static bool holds(GBytes *bytes, const char *part)
{
    gsize length;
    const char *data = g_bytes_get_data(bytes, &length);

    return g_strstr_len(data, (gssize)length, part) != NULL;
}

static GBytes *fetch(House *house, long wanted, const char *path, ...) G_GNUC_PRINTF(3, 4);

static GBytes *fetch(House *house, long wanted, const char *path, ...)
{
    va_list list;
    long status;

    va_start(list, path);
    g_autofree char *whole = g_strdup_vprintf(path, list);
    va_end(list);
    GBytes *bytes = site_fetch(house->site, whole, &status);
    if (status != wanted)
        fail_msg("%s: %ld, not %ld: %.200s", whole, status, wanted,
                 (const char *)g_bytes_get_data(bytes, NULL));
    return bytes;
}

/* 85 cm at 70 degrees less the margin of 2: 85 cos 68 = 31.84, so 32 cm; acos(32/85) = 67.9. */
static void how_to_lie_is_drawn_from_what_was_measured(void **state)
{
    House house = house_open();

    (void)state;
    json_decref(site_ask(house.site, "client set %s --leg-cm 85", house.ada));
    json_decref(site_ask(house.site,
                         "plan set %s --programme calf-and-hamstring --at 09:30 --stage "
                         "lower-hamstring --angle-deg 80 --set-up door-frame",
                         house.ada));
    json_decref(site_ask(house.site,
                         "measure add %s --movement leg-raise --side left --method goniometer "
                         "--angle-deg 70 --by 'R. Okafor'",
                         house.ada));
    g_autoptr(GBytes) drawn = fetch(&house, 200, "/clients/%s/setup.svg", house.ada);
    assert_true(holds(drawn, "<svg"));
    assert_true(holds(drawn, "32 cm"));
    assert_true(holds(drawn, "68°"));
    json_t *plan = site_ask(house.site, "plan show %s", house.ada);
    const json_t *movement = json_array_get(json_object_get(plan, "movements"), 0);
    assert_non_null(strstr(json_string_value(json_object_get(movement, "picture")), "32 cm"));
    json_decref(plan);
    g_bytes_unref(fetch(&house, 404, "/clients/%s/setup.svg?movement=nowhere", house.ada));
    g_bytes_unref(fetch(&house, 404, "/clients/ZZZZ/setup.svg"));
    house_close(&house);
}

static void the_course_is_drawn(void **state)
{
    House house = house_open();

    (void)state;
    assert_true(site_clock(house.site, "2026-03-02T09:31:00Z"));
    stand_in_put(house.gateway, ADA, "D 4 P1", NULL);
    assert_true(site_clock(house.site, "2026-03-02T09:40:00Z"));
    g_autoptr(GBytes) drawn = fetch(&house, 200, "/clients/%s/course.svg?days=7", house.ada);
    assert_true(holds(drawn, "1 of 1 done; stretch 4; pain up to 1."));
    g_bytes_unref(fetch(&house, 400, "/clients/%s/course.svg?days=many", house.ada));
    house_close(&house);
}

/* Twenty one after the other, on workers of their own, and the clock goes on. */
static void many_are_drawn(void **state)
{
    House house = house_open();

    (void)state;
    for (int i = 0; i < 20; i++)
        g_bytes_unref(fetch(&house, 200, "/clients/%s/course.svg?days=%d", house.ada, 7 + i * 30));
    assert_true(site_clock(house.site, "2026-03-03T09:31:00Z"));
    house_close(&house);
}

/* --- paper --------------------------------------------------------------------------------------- */

/* The text of a PDF, by poppler (g_free). */
static char *pdf_text(const char *path)
{
    g_autofree char *command = g_strdup_printf("pdftotext -layout '%s' -", path);
    char *text = NULL;
    int status = 0;

    assert_true(g_spawn_command_line_sync(command, &text, NULL, &status, NULL));
    assert_int_equal(status, 0);
    return text;
}

static void has(const char *text, const char *part)
{
    if (strstr(text, part) == NULL) fail_msg("'%s' is not in:\n%s", part, text);
}

/* The client of a name with characters that print and of those that must not do anything. */
static void the_hand_out_is_paper_in_the_clients_language(void **state)
{
    static const char *const NAMES[] = {"<b>Hélène</b> \\ $(x)", "شيماء عبد الرحمن", "李小龙"};
    House house = house_open();
    g_autofree char *file = g_build_filename(house.site->root, "handout.pdf", NULL);

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(NAMES); i++) {
        json_decref(
            site_ask(house.site, "client set %s --language fr --name '%s'", house.ada, NAMES[i]));
        json_decref(
            site_ask(house.site, "handout %s --paper letter --large --out '%s'", house.ada, file));
        g_autofree char *text = pdf_text(file);
        has(text, "Vos étirements à la maison");
        has(text, "OUI 4 0");
        has(text, "LETTRE B");
        has(text, "999");
        if (i == 0) has(text, NAMES[0]);
    }
    site_fails(house.site, 64, "a4, letter", "handout %s --paper a5 --out '%s'", house.ada, file);
    site_fails(house.site, 64, "--out", "handout %s", house.ada);
    site_fails(house.site, 73, "--out", "handout %s --out /nowhere/at/all.pdf", house.ada);
    site_fails(house.site, 66, "nobody", "handout nobody --out '%s'", file);
    house_close(&house);
}

static void nobody_on_hold_gets_a_hand_out(void **state)
{
    House house = house_open();

    (void)state;
    assert_true(site_clock(house.site, "2026-03-02T09:31:00Z"));
    stand_in_put(house.gateway, ADA, "done but my chest feels tight", NULL);
    assert_true(site_clock(house.site, "2026-03-02T09:40:00Z"));
    site_fails(house.site, 77, "on hold", "handout %s --out x.pdf", house.ada);
    house_close(&house);
}

static void the_summary_tells_all_and_words_on_request(void **state)
{
    House house = house_open();
    g_autofree char *file = g_build_filename(house.site->root, "summary.pdf", NULL);

    (void)state;
    assert_true(site_clock(house.site, "2026-03-02T09:31:00Z"));
    stand_in_put(house.gateway, ADA, "D 4 P0 and thank you kindly", NULL);
    assert_true(site_clock(house.site, "2026-03-02T09:40:00Z"));
    json_decref(site_ask(house.site, "summary %s --out '%s'", house.ada, file));
    g_autofree char *brief = pdf_text(file);
    has(brief, "R. Okafor");
    has(brief, "1 of 1 done");
    assert_null(strstr(brief, "kindly"));
    json_decref(site_ask(house.site, "summary %s --words --out '%s'", house.ada, file));
    g_autofree char *whole = pdf_text(file);
    has(whole, "thank you kindly");
    has(whole, "time for your stretches");
    json_t *document = site_ask(house.site, "summary %s", house.ada);
    assert_int_equal(json_array_size(json_object_get(document, "stages")), 1);
    assert_null(json_object_get(document, "words"));
    json_decref(document);
    house_close(&house);
}

static void the_week_on_paper(void **state)
{
    House house = house_open();
    g_autofree char *file = g_build_filename(house.site->root, "week.pdf", NULL);

    (void)state;
    assert_true(site_clock(house.site, "2026-03-04T09:31:00Z"));
    json_decref(site_ask(house.site, "week --of 2026-03-03 --format pdf --out '%s'", file));
    g_autofree char *text = pdf_text(file);
    has(text, "The week from 2 March 2026 to 8 March 2026");
    has(text, "Practised: 0 of 1 clients");
    site_fails(house.site, 64, "--out", "week --format pdf");
    house_close(&house);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(how_to_lie_is_drawn_from_what_was_measured),
        cmocka_unit_test(the_course_is_drawn),
        cmocka_unit_test(many_are_drawn),
        cmocka_unit_test(the_hand_out_is_paper_in_the_clients_language),
        cmocka_unit_test(nobody_on_hold_gets_a_hand_out),
        cmocka_unit_test(the_summary_tells_all_and_words_on_request),
        cmocka_unit_test(the_week_on_paper),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
