/* SPDX-License-Identifier: Apache-2.0 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "tests/support/store_cases.h"

BenchSort bench_sort(void **state)
{
    return (BenchSort)GPOINTER_TO_INT(*state);
}

int bench_cases(const BenchCase *cases, size_t n_cases)
{
    static const struct {
        BenchSort sort;
        const char *name;
    } SORTS[] = {{BENCH_MEMORY, "memory"}, {BENCH_SQLITE, "sqlite"}, {BENCH_POSTGRES, "postgres"}};
    size_t n = n_cases * G_N_ELEMENTS(SORTS);
    g_autofree struct CMUnitTest *tests = g_new0(struct CMUnitTest, n);
    g_autoptr(GPtrArray) names = g_ptr_array_new_with_free_func(g_free);

    for (size_t i = 0; i < n; i++) {
        const BenchCase *one = &cases[i / G_N_ELEMENTS(SORTS)];
        size_t sort = i % G_N_ELEMENTS(SORTS);

        g_ptr_array_add(names, g_strconcat(one->name, ", ", SORTS[sort].name, NULL));
        tests[i] = (struct CMUnitTest){.name = names->pdata[i],
                                       .test_func = one->run,
                                       .initial_state = GINT_TO_POINTER(SORTS[sort].sort)};
    }
    return _cmocka_run_group_tests("store", tests, n, NULL, NULL);
}
