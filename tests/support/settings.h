/* SPDX-License-Identifier: Apache-2.0 */
/* A clinic's settings: with every key, for tests that break them, and plain, for tests that need a clinic. */
#ifndef OSIER_TESTS_SUPPORT_SETTINGS_H
#define OSIER_TESTS_SUPPORT_SETTINGS_H

#include <glib.h>

/* The text with line (from 1) written otherwise, or left out (instead NULL); line 0: as it is. They
 * name the secrets texts.key, texts.hook and mail.key. The caller frees. */
char *settings_text(size_t line, const char *instead);

/* A clinic of that name, with one on the duty list, whose texts go into the spool folder. clinic: more lines of the section clinic
 * ("  keep_records_years: 8\n"); sections: more sections; "" for none. The caller frees. */
char *settings_plain(const char *name, const char *clinic, const char *sections);

#endif
