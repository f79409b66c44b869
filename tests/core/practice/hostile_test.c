/* SPDX-License-Identifier: Apache-2.0 */
/* A programme's tree with anything anywhere: faults or a programme, never a crash, and one of the
 * two always. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "core/practice/programme.h"
#include "tests/support/programmes.h"

/* Something that may stand where something else belongs. */
static json_t *anything(GRand *random)
{
    switch (g_rand_int_range(random, 0, 11)) {
    case 0: return json_null();
    case 1: return json_true();
    case 2: return json_integer(-1);
    case 3: return json_real(1e300);
    case 4: return json_string("");
    case 5: return json_string("40-30");
    case 6: return json_array();
    case 7: return json_object();
    case 8: return json_pack("[n, {s: i}, s]", "key", 3, "upkeep");
    case 9: return json_string("upkeep");
    default: return json_integer(G_MAXINT64);
    }
}

/* Walks down at random and changes one node. */
static void spoil(json_t *node, GRand *random)
{
    for (;;) {
        bool here = g_rand_int_range(random, 0, 4) == 0;
        if (json_is_object(node) && json_object_size(node) > 0) {
            int skip = g_rand_int_range(random, 0, (int)json_object_size(node));
            void *at = json_object_iter(node);
            while (skip-- > 0)
                at = json_object_iter_next(node, at);
            json_t *below = json_object_iter_value(at);
            g_autofree char *key = g_strdup(json_object_iter_key(at));
            if (here || !(json_is_object(below) || json_is_array(below))) {
                if (g_rand_boolean(random))
                    json_object_set_new(node, key, anything(random));
                else
                    json_object_del(node, key);
                return;
            }
            node = below;
        } else if (json_is_array(node) && json_array_size(node) > 0) {
            size_t index = (size_t)g_rand_int_range(random, 0, (int)json_array_size(node));
            json_t *below = json_array_get(node, index);
            if (here || !(json_is_object(below) || json_is_array(below))) {
                json_array_set_new(node, index, anything(random));
                return;
            }
            node = below;
        } else {
            return;
        }
    }
}

static void anything_anywhere(void **state)
{
    const guint32 seed = 41;
    int read = 0;
    (void)state;
    g_autoptr(Programme) good = programme_shipped(CALF_AND_HAMSTRING);
    GRand *random = g_rand_new_with_seed(seed);

    print_message("seed %u\n", seed);
    for (int i = 0; i < 4000; i++) {
        json_t *tree = json_deep_copy(good->tree);
        g_autoptr(Faults) faults = faults_new();
        for (int n = g_rand_int_range(random, 1, 6); n > 0; n--)
            spoil(tree, random);
        Programme *programme = programme_read(tree, faults);
        if ((programme != NULL) != (faults->items->len == 0))
            fail_msg("seed %u, tree %d: neither a programme nor a fault, or both", seed, i);
        read += programme != NULL;
        programme_free(programme);
        json_decref(tree);
    }
    g_rand_free(random);
    print_message("%d of 4000 still read\n", read);
    assert_in_range(read, 1, 3999);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(anything_anywhere),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
