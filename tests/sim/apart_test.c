/* SPDX-License-Identifier: Apache-2.0 */
/* A few histories of a clinic whose replicas are apart, for the sanitizers; OSIER_HISTORIES plays more. `make check` plays 200 and
 * `make sim` 10,000 by build/sim. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>

#include <cmocka.h>

#include "tests/sim/apart.h"

#include <glib.h>

#define HISTORIES 20

static void all_agree_and_nobody_is_harmed(void **state)
{
    const char *more = g_getenv("OSIER_HISTORIES");
    uint64_t histories = more != NULL ? g_ascii_strtoull(more, NULL, 10) : HISTORIES;
    Apart *apart = apart_new();
    ApartTally tally = {0};

    (void)state;
    print_message("seeds 1 to %" G_GUINT64_FORMAT "\n", histories);
    for (uint64_t seed = 1; seed <= histories; seed++)
        assert_true(apart_run(apart, seed, false, &tally));
    apart_free(apart);
    /* Histories in which little happens prove little. */
    assert_true(tally.calls > 5 * tally.histories);
    assert_true(tally.messages > tally.histories);
    assert_true(tally.joined > 0 && tally.erased > 0 && tally.duties > 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(all_agree_and_nobody_is_harmed)};

    return cmocka_run_group_tests_name("apart", tests, NULL, NULL);
}
