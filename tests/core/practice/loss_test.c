/* SPDX-License-Identifier: Apache-2.0 */
/* Losses that are a sign. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "core/practice/loss.h"
#include "tests/support/near.h"
#include "tests/support/programmes.h"

static Programme *programme;

static Loss loss(const char *key, const char *method, const double *values, int n, int since)
{
    const Measure *measure = programme_measure(programme, key);
    MeasureReading readings[8] = {0};

    assert_true(n <= 8);
    for (int i = 0; i < n; i++)
        readings[i] =
            (MeasureReading){.value = values[i], .method = measure_method(measure, method)};
    return loss_of(measure, readings, n, since);
}

#define HEIGHT(since, ...)                                                                         \
    loss("height", "stadiometer", (const double[]){__VA_ARGS__},                                   \
         (int)(sizeof((const double[]){__VA_ARGS__}) / sizeof(double)), since)

/* 2 cm and over since an earlier measuring (Siminoski 2005, Osteoporos Int 16:403, from memory); the error of measuring is
 * 1.96 sqrt(2) 0.4 = 1.1 cm. */
static void two_centimetres_are_a_sign(void **state)
{
    (void)state;
    assert_int_equal(HEIGHT(0, 164, 162).kind, LOSS_SIGN);
    assert_int_equal(HEIGHT(0, 164, 162.1).kind, LOSS_REAL);
    assert_int_equal(HEIGHT(0, 164, 163).kind, LOSS_NONE);
    assert_int_equal(HEIGHT(0, 164).kind, LOSS_NONE);
    assert_int_equal(HEIGHT(0, 162, 164).kind, LOSS_NONE);
    assert_int_equal(HEIGHT(0, 171.3, 169.3).kind, LOSS_SIGN); /* 2.0 in binary is a little less */
}

static void it_is_told_from_the_tallest(void **state)
{
    Loss slow = HEIGHT(0, 163, 164, 163.5, 163, 162.5, 162);

    (void)state;
    assert_int_equal(slow.kind, LOSS_SIGN);
    assert_int_equal(slow.beside, 1);
    near(slow.loss, 2, 1e-9);
    near(slow.limit, 2, 1e-9);
    assert_int_equal(HEIGHT(3, 163, 164, 163.5, 163, 162.5, 162).kind, LOSS_NONE);
}

static void only_where_the_programme_says_so(void **state)
{
    (void)state;
    assert_int_equal(loss("leg-raise", "goniometer", (const double[]){80, 40}, 2, 0).kind,
                     LOSS_NONE);
}

static void another_landmark_is_not_compared(void **state)
{
    const Measure *measure = programme_measure(programme, "height");
    const Method *method = measure_method(measure, "stadiometer");
    const MeasureReading readings[] = {{164, method, "with shoes"}, {161, method, NULL}};

    (void)state;
    assert_int_equal(loss_of(measure, readings, 2, 0).kind, LOSS_NONE);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(two_centimetres_are_a_sign),
        cmocka_unit_test(it_is_told_from_the_tallest),
        cmocka_unit_test(only_where_the_programme_says_so),
        cmocka_unit_test(another_landmark_is_not_compared),
    };

    programme = programme_shipped(CALF_AND_HAMSTRING);
    int failed = cmocka_run_group_tests(tests, NULL, NULL);
    programme_free(programme);
    return failed;
}
