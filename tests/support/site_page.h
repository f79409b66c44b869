/* SPDX-License-Identifier: Apache-2.0 */
/* The page of a site, asked as a browser at this machine asks that takes it for https://page.clinic.example. */
#ifndef OSIER_TESTS_SUPPORT_SITE_PAGE_H
#define OSIER_TESTS_SUPPORT_SITE_PAGE_H

#include "tests/support/site.h"

#define SITE_PAGE_URL "https://page.clinic.example"

/* Adds the page at that port of the loopback to the settings that the site has. */
void site_use_page(Site *site, int port);

/* GET of a path or of a whole link of the page: the status, 0 where nobody listens. */
long site_page_get(int port, const char *link);

/* Makes an account of that name (without quotes) and sets its password by the link. */
void site_page_welcome(Site *site, int port, const char *name);

/* Logs in with that password: the status. */
long site_page_log_in(int port, const char *name);

#endif
