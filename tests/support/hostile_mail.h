/* SPDX-License-Identifier: Apache-2.0 */
/* Mails of a mebibyte that are made to cost whoever reads them, a kind for each way. */
#ifndef OSIER_TESTS_SUPPORT_HOSTILE_MAIL_H
#define OSIER_TESTS_SUPPORT_HOSTILE_MAIL_H

#include <glib.h>
#include <stdbool.h>

enum { HOSTILE_KINDS = 21, HOSTILE_BYTES = 1024 * 1024 };

/* kind: 0 to HOSTILE_KINDS - 1. */
GBytes *hostile_mail(int kind);
const char *hostile_name(int kind);

/* Whether it is over the bounds of headers and parts; what is within them is a body that is too long or too odd. */
bool hostile_is_cut(int kind);

#endif
