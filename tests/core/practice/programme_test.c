/* SPDX-License-Identifier: Apache-2.0 */
/* The programmes that come with osier, and programmes with something wrong in them. */
#define _GNU_SOURCE
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "core/practice/programme.h"
#include "tests/support/programmes.h"

static const char *const SHIPPED[] = {CALF_AND_HAMSTRING, "config/programmes/tall-and-open.yaml",
                                      "config/programmes/steady-at-the-worktop.yaml"};

static void calf_and_hamstring_goes_from_ankle_to_upkeep(void **state)
{
    static const char *const WAY[] = {"ankle-pumping",   "calf-with-strap", "lower-hamstring",
                                      "upper-hamstring", "hip-hinge",       "upkeep"};
    (void)state;
    g_autoptr(Programme) programme = programme_shipped(CALF_AND_HAMSTRING);
    const Stage *stage = programme_stage_at(programme, 0);

    assert_int_equal(programme_stages(programme), G_N_ELEMENTS(WAY));
    for (size_t i = 0; i < G_N_ELEMENTS(WAY); i++) {
        assert_non_null(stage);
        assert_string_equal(stage->key, WAY[i]);
        stage = stage_next(programme, stage);
    }
    assert_null(stage);
}

/* Common practice: 30 to 40 repetitions for the calf, 20 to 30 at the door frame, held one to two
 * seconds, goal 90 degrees. */
static void the_doses_are_the_trades(void **state)
{
    (void)state;
    g_autoptr(Programme) programme = programme_shipped(CALF_AND_HAMSTRING);
    const Movement *calf =
        g_ptr_array_index(programme_stage(programme, "calf-with-strap")->movements, 0);
    const Movement *frame =
        g_ptr_array_index(programme_stage(programme, "lower-hamstring")->movements, 0);

    assert_true(calf->dose.sets * calf->dose.repetitions.from == 30);
    assert_true(calf->dose.sets * calf->dose.repetitions.to == 40);
    assert_true(frame->dose.sets * frame->dose.repetitions.from == 20);
    assert_true(frame->dose.sets * frame->dose.repetitions.to == 30);
    assert_true(frame->dose.hold_s.from == 1 && frame->dose.hold_s.to == 2);
    assert_true(frame->relaxed.intensity.from == 4 && frame->relaxed.intensity.to == 5);
    assert_true(programme->start.goal_deg == 90);
    g_autofree char *text = dose_text(&calf->dose);
    assert_string_equal(
        text, "each side, 2 sets of 15 to 20, each held 1 to 2 s, 30 to 60 s rest between sets");
}

static bool says(const GPtrArray *texts, const char *word)
{
    for (guint i = 0; i < texts->len; i++)
        if (strcasestr(g_ptr_array_index(texts, i), word) != NULL) return true;
    return false;
}

static void every_programme_ends_and_warns(void **state)
{
    (void)state;
    for (size_t i = 0; i < G_N_ELEMENTS(SHIPPED); i++) {
        g_autoptr(Programme) programme = programme_shipped(SHIPPED[i]);
        const Stage *stage = programme_stage_at(programme, 0);
        while (stage_next(programme, stage) != NULL)
            stage = stage_next(programme, stage);
        assert_string_equal(stage->key, "upkeep");
        assert_true(stage->days_a_week <= 3);
        assert_string_equal(stage_rule(stage), "FREQ=WEEKLY;BYDAY=MO,WE,FR");
        assert_null(stage_rule(programme_stage_at(programme, 0)));
        assert_true(stage_is_later(programme, stage, programme_stage_at(programme, 0)));
        assert_false(stage_is_later(programme, programme_stage_at(programme, 0), stage));
        assert_false(stage_is_later(programme, stage, stage));
        assert_true(says(programme->cautions, "sharp pain"));
        assert_true(says(programme->cautions, "not an emergency line"));
        assert_non_null(strstr(programme->goodbye, "{phone}"));
        assert_non_null(strstr(programme->beside, "strength"));
        assert_non_null(strstr(programme->beside, "alance"));
    }
}

static void a_calf_that_is_warm_or_swollen_is_a_reason_to_ring(void **state)
{
    (void)state;
    g_autoptr(Programme) programme = programme_shipped(CALF_AND_HAMSTRING);
    const Movement *movement =
        g_ptr_array_index(programme_stage(programme, "calf-with-strap")->movements, 0);
    g_autofree char *text = movement_text(programme, movement, NULL);

    assert_non_null(strstr(text, "Stop at sharp pain"));
    assert_non_null(strstr(text, "Ring your clinic if a calf is warm, swollen, red"));
    assert_non_null(strstr(text, "tingling or an electric pull means stop"));
    assert_non_null(strstr(text, "30 to 60 s rest between sets"));
    assert_non_null(strstr(text, "hold relaxed for 1 to 2 minutes at 4 to 5 out of 10"));
    assert_non_null(strstr(text, "Set-up: A soft strap, on the bed."));
}

/* Each file has one thing wrong, told in its first lines as `# expect: LINE: WORDS`, once for each
 * line that must come. */
static void check_bad(const char *path)
{
    g_autofree char *text = NULL;
    g_autoptr(GPtrArray) messages = programme_messages(path);
    int expected = 0;

    assert_true(g_file_get_contents(path, &text, NULL, NULL));
    g_auto(GStrv) lines = g_strsplit(text, "\n", 0);
    for (int i = 0; lines[i] != NULL && g_str_has_prefix(lines[i], "# "); i++) {
        if (!g_str_has_prefix(lines[i], "# expect: ")) continue;
        g_auto(GStrv) parts = g_strsplit(lines[i] + strlen("# expect: "), ": ", 2);
        g_autofree char *place = g_strdup_printf("%s:%s:", path, parts[0]);
        bool found = false;
        for (guint m = 0; m < messages->len; m++) {
            const char *message = g_ptr_array_index(messages, m);
            found =
                found || (g_str_has_prefix(message, place) && strstr(message, parts[1]) != NULL);
        }
        expected++;
        if (found) continue;
        for (guint m = 0; m < messages->len; m++)
            print_error("%s\n", (const char *)g_ptr_array_index(messages, m));
        fail_msg("%s: nothing told of %s", path, lines[i]);
    }
    assert_true(expected > 0);
    if ((int)messages->len != expected)
        for (guint m = 0; m < messages->len; m++)
            print_error("%s\n", (const char *)g_ptr_array_index(messages, m));
    assert_int_equal(messages->len, expected);
}

static void bad_programmes_each_give_the_line_and_the_reason(void **state)
{
    static const char FOLDER[] = "tests/core/practice/bad";
    GDir *dir = g_dir_open(FOLDER, 0, NULL);
    const char *name;
    int files = 0;
    (void)state;

    assert_non_null(dir);
    while ((name = g_dir_read_name(dir)) != NULL) {
        g_autofree char *path = g_build_filename(FOLDER, name, NULL);
        check_bad(path);
        files++;
    }
    g_dir_close(dir);
    assert_true(files >= 15);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(calf_and_hamstring_goes_from_ankle_to_upkeep),
        cmocka_unit_test(the_doses_are_the_trades),
        cmocka_unit_test(every_programme_ends_and_warns),
        cmocka_unit_test(a_calf_that_is_warm_or_swollen_is_a_reason_to_ring),
        cmocka_unit_test(bad_programmes_each_give_the_line_and_the_reason),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
