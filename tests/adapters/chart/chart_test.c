/* SPDX-License-Identifier: Apache-2.0 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "adapters/chart/chart.h"
#include "tests/support/language.h"
#include "tests/support/programmes.h"

/* OSIER_TEST_PICTURES=DIR keeps what is drawn, to be looked at. */
static void keep(const char *name, GBytes *bytes)
{
    const char *dir = g_getenv("OSIER_TEST_PICTURES");

    if (dir == NULL) return;
    g_autofree char *path = g_build_filename(dir, name, NULL);
    g_file_set_contents(path, g_bytes_get_data(bytes, NULL), (gssize)g_bytes_get_size(bytes), NULL);
}

static bool begins(GBytes *bytes, const char *with)
{
    gsize length;
    const char *data = g_bytes_get_data(bytes, &length);

    return length > strlen(with) && memcmp(data, with, strlen(with)) == 0;
}

static bool holds(GBytes *bytes, const char *part)
{
    gsize length;
    const char *data = g_bytes_get_data(bytes, &length);

    return g_strstr_len(data, (gssize)length, part) != NULL;
}

static Picture *setup_picture(const Pack *pack, const Programme *programme, const char *stage,
                              const char *setup, double leg, double angle)
{
    const Stage *at = programme_stage(programme, stage);

    return picture_of_setup(pack, &(SetupAsk){.movement = at->movements->pdata[0],
                                              .setup = programme_setup(programme, setup),
                                              .leg_cm = leg,
                                              .angle_deg = angle});
}

static void every_setup_is_drawn(void **state)
{
    static const struct {
        const char *stage, *setup;
        double leg, angle;
    } CASES[] = {
        {"lower-hamstring", "door-frame", 85, 70},  {"lower-hamstring", "door-frame", 100, 92},
        {"lower-hamstring", "door-frame", 75, 40},  {"lower-hamstring", "ball", 85, 52},
        {"lower-hamstring", "ball", 0, -1},         {"lower-hamstring", "bolster-bed", 85, 46},
        {"upper-hamstring", "strap-floor", 85, 80}, {"upper-hamstring", "strap-bed", 85, 100},
        {"calf-with-strap", "strap-bed", 85, 60},   {"calf-with-strap", "strap-chair", 85, 60},
        {"ankle-pumping", "bare-bed", 85, 60},      {"calf-with-strap", "strap-chair", 0, -1},
    };
    g_autoptr(Pack) pack = language_pack("en");
    g_autoptr(Programme) programme = programme_shipped(CALF_AND_HAMSTRING);

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(CASES); i++) {
        g_autoptr(Picture) picture = setup_picture(pack, programme, CASES[i].stage, CASES[i].setup,
                                                   CASES[i].leg, CASES[i].angle);
        g_autoptr(GBytes) png = chart_picture(picture, CHART_PNG, 480);
        g_autoptr(GBytes) svg = chart_picture(picture, CHART_SVG, 480);
        g_autofree char *name = g_strdup_printf("setup-%02zu-%s.png", i, CASES[i].setup);
        keep(name, png);
        assert_true(begins(png, "\x89PNG\r\n"));
        assert_true(holds(svg, "<svg"));
        assert_true(holds(svg, picture->title));
    }
}

/* --- the course ---------------------------------------------------------------------------------- */

/* So many days of made-up sessions, and a measure every four weeks. */
static Picture *course_picture(const Pack *pack, int days)
{
    static const char *const STATES[] = {"done",   "done", "done", "partly", "done",    "not",
                                         "silent", "done", "done", "done",   "unasked", "excused"};
    g_autoptr(GArray) sessions = g_array_new(FALSE, FALSE, sizeof(CourseSession));
    g_autoptr(GArray) readings = g_array_new(FALSE, FALSE, sizeof(CourseReading));
    Day from = 20514; /* 2026-03-02 */

    for (int i = 0; i < days; i++) {
        const char *state = STATES[(i * 5 + i / 3) % 12];
        bool told = strcmp(state, "done") == 0;
        CourseSession session = {.day = from + i,
                                 .state = state,
                                 .intensity = told ? 3 + i % 3 + i % 11 / 4 : -1,
                                 .pain = told ? (i * i) % 7 / 2 : -1};
        if (i % 7 != 6) g_array_append_val(sessions, session);
    }
    for (int i = 1; i < days; i += 28)
        for (int right = 0; right < 2; right++) {
            CourseReading reading = {
                .day = i, .degrees = 58 + right * 5 + (i - 1) * 28.0 / days, .right = right};
            g_array_append_val(readings, reading);
        }
    return picture_of_course(pack,
                             &(CourseAsk){.from = from,
                                          .to = from + days - 1,
                                          .sessions = (const CourseSession *)(void *)sessions->data,
                                          .n_sessions = (int)sessions->len,
                                          .readings = (const CourseReading *)(void *)readings->data,
                                          .n_readings = (int)readings->len,
                                          .goal = {90, 85}});
}

static void a_course_is_drawn_and_told(void **state)
{
    static const struct {
        const char *language;
        int days;
    } CASES[] = {{"en", 10}, {"en", 56}, {"es", 200}, {"fr", 728}};

    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(CASES); i++) {
        g_autoptr(Pack) pack = language_pack(CASES[i].language);
        g_autoptr(Picture) picture = course_picture(pack, CASES[i].days);
        g_autoptr(GBytes) png = chart_picture(picture, CHART_PNG, 720);
        g_autoptr(GBytes) pdf = chart_picture(picture, CHART_PDF, 480);
        g_autofree char *name = g_strdup_printf("course-%d.png", CASES[i].days);
        keep(name, png);
        assert_true(begins(pdf, "%PDF-"));
        assert_non_null(strstr(picture->alt, "58°"));
    }
}

static void nothing_yet_is_drawn_too(void **state)
{
    g_autoptr(Pack) pack = language_pack("en");
    g_autoptr(Picture) picture =
        picture_of_course(pack, &(CourseAsk){.from = 20514, .to = 20514, .goal = {-1, -1}});
    g_autoptr(GBytes) png = chart_picture(picture, CHART_PNG, 720);

    (void)state;
    assert_true(begins(png, "\x89PNG"));
    assert_string_equal(picture->alt, "no sessions.");
}

/* --- the clinic's clients ------------------------------------------------------------------------ */

static void names_of_any_kind_are_print(void **state)
{
    const AdherenceEntry entries[] = {
        {"Ada Nightingale", {.done = 5, .partly = 1, .silent = 1}},
        {"<script>alert(1)</script> & \"co\"", {.done = 3, .not = 2, .unasked = 2}},
        {"شيماء عبد الرحمن", {.done = 7}},
        {"李小龙医生的患者", {.silent = 7}},
        {"Wwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwwww",
         {.excused = 3, .done = 4}},
        {"bad \xff bytes\n and a line", {.done = 1, .not = 6}},
        {"Nobody asked", {.unasked = 7}},
    };
    g_autoptr(Pack) pack = language_pack("en");
    g_autoptr(Picture) picture = picture_of_adherence(pack, entries, G_N_ELEMENTS(entries));
    g_autoptr(GBytes) png = chart_picture(picture, CHART_PNG, 640);
    g_autoptr(GBytes) svg = chart_picture(picture, CHART_SVG, 640);

    (void)state;
    keep("adherence.png", png);
    assert_non_null(strstr(picture->alt, "Ada Nightingale: 5 of 7 done, 1 in part, 1 no answer"));
    AdherenceRow *first = picture->adherence->rows->pdata[0];
    AdherenceRow *last = picture->adherence->rows->pdata[G_N_ELEMENTS(entries) - 1];
    assert_string_equal(first->figure, "5 of 7");
    assert_string_equal(last->figure, ""); /* "0 of 7" would be a reproach */
    assert_false(holds(svg, "<script>"));
    assert_true(holds(svg, "&lt;script&gt;"));
}

static void of_many_clients_those_who_did_least(void **state)
{
    g_autofree AdherenceEntry *entries = g_new0(AdherenceEntry, 200);
    g_autoptr(Pack) pack = language_pack("en");

    (void)state;
    for (int i = 0; i < 200; i++)
        entries[i] = (AdherenceEntry){.name = i == 150 ? "Least" : "Other",
                                      .counts = {.done = i == 150 ? 0 : 5, .not = 2}};
    g_autoptr(Picture) picture = picture_of_adherence(pack, entries, 200);
    g_autoptr(GBytes) png = chart_picture(picture, CHART_MAIL, 560);
    assert_int_equal(picture->adherence->rows->len, ADHERENCE_ROWS_MAX);
    assert_string_equal(((AdherenceRow *)picture->adherence->rows->pdata[0])->name, "Least");
    keep("adherence-many.png", png);
    assert_true(g_bytes_get_size(png) < 100 * 1024);
    assert_null(picture_of_adherence(pack, entries, 0));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_setup_is_drawn),
        cmocka_unit_test(a_course_is_drawn_and_told),
        cmocka_unit_test(nothing_yet_is_drawn_too),
        cmocka_unit_test(names_of_any_kind_are_print),
        cmocka_unit_test(of_many_clients_those_who_did_least),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
