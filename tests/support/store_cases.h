/* SPDX-License-Identifier: Apache-2.0 */
/* Cases that every sort of store must pass. */
#ifndef OSIER_TESTS_SUPPORT_STORE_CASES_H
#define OSIER_TESTS_SUPPORT_STORE_CASES_H

#include "tests/support/store_bench.h"

/* Its state is what bench_sort reads. */
typedef struct {
    const char *name;
    void (*run)(void **state);
} BenchCase;

BenchSort bench_sort(void **state);

/* Runs each case against each sort, named for both, as cmocka_run_group_tests does. */
int bench_cases(const BenchCase *cases, size_t n_cases);

#endif
