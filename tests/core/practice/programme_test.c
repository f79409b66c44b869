/* SPDX-License-Identifier: Apache-2.0 */
/* The programmes that come with osier, and programmes with something wrong in them. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "core/practice/programme.h"
#include "tests/support/programmes.h"

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

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(calf_and_hamstring_goes_from_ankle_to_upkeep),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
