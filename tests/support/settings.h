/* SPDX-License-Identifier: Apache-2.0 */
/* A clinic's settings in which every key is used, for tests that break them. */
#ifndef OSIER_TESTS_SUPPORT_SETTINGS_H
#define OSIER_TESTS_SUPPORT_SETTINGS_H

#include <glib.h>

/* The text with line (from 1) written otherwise, or left out (instead NULL); line 0: as it is. They
 * name the secrets texts.key, texts.hook and mail.key. The caller frees. */
char *settings_text(size_t line, const char *instead);

#endif
