/* SPDX-License-Identifier: Apache-2.0 */
/* What a browser is made to keep to, and by what it gives itself away: the names under which the
 * page may be asked for, where a change may come from, the headers of every answer, the cookie. */
#ifndef OSIER_ADAPTERS_PAGE_GUARD_H
#define OSIER_ADAPTERS_PAGE_GUARD_H

#include <stdbool.h>

typedef struct Guard Guard;

/* listen: "127.0.0.1:8750". url: where the page is reached from outside, such as
 * "https://page.clinic.example", or NULL. */
Guard *guard_new(const char *listen, const char *url);
void guard_free(Guard *guard);

/* Is it a name of this page? Else a stranger's page has been given this machine's address. */
bool guard_host(const Guard *guard, const char *host);

/* May a change come from there? origin and site are the headers Origin and Sec-Fetch-Site, or NULL;
 * one that is there must be right, and one must be there. */
bool guard_origin(const Guard *guard, const char *origin, const char *site);

/* "Name: value" lines, NULL-ended, for every answer. */
const char *const *guard_headers(void);

/* The value of the page's own cookie in the header Cookie (g_free), or NULL. */
char *guard_cookie(const Guard *guard, const char *header);

/* The line that sets it, and the one that takes it away where value is NULL (g_free). */
char *guard_set_cookie(const Guard *guard, const char *value);

#endif
