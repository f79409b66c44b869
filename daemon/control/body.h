/* SPDX-License-Identifier: Apache-2.0 */
/* What every body of the JSON API has in common, whatever it is for. */
#ifndef OSIER_DAEMON_CONTROL_BODY_H
#define OSIER_DAEMON_CONTROL_BODY_H

#include <jansson.h>

/* At most so many characters name who does something. */
enum { BODY_BY_CHARS = 80 };

/* NULL, or why the body cannot be meant as it is, with the field: one that holds a text means the same in every call, and what is of
 * another type would otherwise pass for not given. null is not given. */
const char *body_fault(const json_t *body, const char **field);

#endif
