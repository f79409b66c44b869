/* SPDX-License-Identifier: Apache-2.0 */
/* Programmes from files, for tests. */
#ifndef OSIER_TESTS_SUPPORT_PROGRAMMES_H
#define OSIER_TESTS_SUPPORT_PROGRAMMES_H

#include "core/practice/programme.h"

#define CALF_AND_HAMSTRING "config/programmes/calf-and-hamstring.yaml"

/* A programme that must be right; what is wrong is printed and fails the test. Freed with
 * programme_free. */
Programme *programme_shipped(const char *path);

/* The lines told of a programme that must be wrong. Freed with g_ptr_array_unref. */
GPtrArray *programme_messages(const char *path);

#endif
