/* SPDX-License-Identifier: Apache-2.0 */
/* A site whose store is a schema on the test's own PostgreSQL server. */
#ifndef OSIER_TESTS_SUPPORT_SITE_SCHEMA_H
#define OSIER_TESTS_SUPPORT_SITE_SCHEMA_H

#include "tests/support/pg_server.h"
#include "tests/support/site.h"

/* Adds a store in that schema to the settings that the site has. */
void site_use_schema(Site *site, const char *schema);

/* The settings as they were before. */
void site_leave_schema(Site *site);

#endif
