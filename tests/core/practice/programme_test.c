/* SPDX-License-Identifier: Apache-2.0 */
/* The programmes that come with osier, and programmes with something wrong in them. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "adapters/files/tree.h"
#include "core/practice/programme.h"

/* Reads a programme that must be right; what is wrong is printed. */
static Programme *shipped(const char *path)
{
    g_autoptr(GPtrArray) messages = g_ptr_array_new_with_free_func(g_free);
    g_autoptr(Tree) tree = tree_load(path, messages);
    Programme *programme = NULL;

    if (tree != NULL) {
        g_autoptr(Faults) faults = tree_faults_new(tree);
        programme = programme_read(tree_root(tree), faults);
        tree_faults(tree, faults, messages);
    }
    for (guint i = 0; i < messages->len; i++)
        print_error("%s\n", (const char *)g_ptr_array_index(messages, i));
    assert_non_null(programme);
    return programme;
}

static void calf_and_hamstring_goes_from_ankle_to_upkeep(void **state)
{
    static const char *const WAY[] = {"ankle-pumping",   "calf-with-strap", "lower-hamstring",
                                      "upper-hamstring", "hip-hinge",       "upkeep"};
    (void)state;
    g_autoptr(Programme) programme = shipped("config/programmes/calf-and-hamstring.yaml");
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
