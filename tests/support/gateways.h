/* SPDX-License-Identifier: Apache-2.0 */
/* A clinic's settings around one gateway, for tests of what speaks with gateways. */
#ifndef OSIER_TESTS_SUPPORT_GATEWAYS_H
#define OSIER_TESTS_SUPPORT_GATEWAYS_H

#include "core/clinic/clinic.h"

/* The settings with the gateway "texts" as this JSON says; fails the test where they have a fault.
 */
Clinic *clinic_with_gateway(const char *json);

/* Gives "k-NAME" for every secret but "absent" and those that stand in the context, an array of
 * name, value pairs that ends with NULL (or NULL). */
const char *test_secret(const char *name, void *context);

#endif
