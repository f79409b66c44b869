/* SPDX-License-Identifier: Apache-2.0 */
/* Which calls of the JSON API may be made from the page, and by whom. What is not listed is not there
 * for the page: the command line alone makes it. */
#ifndef OSIER_DAEMON_PAGE_RIGHTS_H
#define OSIER_DAEMON_PAGE_RIGHTS_H

#include <stdbool.h>

typedef enum {
    RIGHT_NONE,      /* not from the page */
    RIGHT_CLINICIAN, /* by clinicians: stages, screens, what ends a client */
    RIGHT_ALL        /* by the desk too */
} Right;

/* shows: does the answer show a client, so that the look is written down? */
Right right_of(const char *method, const char *path, bool *shows);

#endif
