/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/support/near.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

void near(double got, double wanted, double within)
{
    if (!(fabs(got - wanted) <= within))
        fail_msg("got %.10g, wanted %.10g within %g", got, wanted, within);
}
