/* SPDX-License-Identifier: Apache-2.0 */
/* Numbers that must be as near as a published table allows. */
#ifndef OSIER_TESTS_SUPPORT_NEAR_H
#define OSIER_TESTS_SUPPORT_NEAR_H

/* Fails the running test, showing both, where got is further than within from wanted, or no number.
 */
void near(double got, double wanted, double within);

#endif
