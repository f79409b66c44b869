/* SPDX-License-Identifier: Apache-2.0 */
/* A language pack that comes with osier, for tests that need its words. */
#ifndef OSIER_TESTS_SUPPORT_LANGUAGE_H
#define OSIER_TESTS_SUPPORT_LANGUAGE_H

#include "core/talk/pack.h"
#include "core/talk/reading.h"

/* The pack of config/languages; fails the test, with every fault told, where it has any. Freed with
 * pack_free. */
Pack *language_pack(const char *language);

/* The words of that language with what English is read by: for tests that only write. */
Pack *language_words(const char *language);

/* The tree of that file, a new reference. */
json_t *language_tree(const char *language);

/* A text read by that language alone, of the packs that come with osier (packs_load). Freed with reading_free. */
Reading *language_read(const GPtrArray *packs, const char *language, const char *text);

#endif
