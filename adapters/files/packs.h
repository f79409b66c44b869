/* SPDX-License-Identifier: Apache-2.0 */
/* The language packs of an installation and of a clinic. */
#ifndef OSIER_ADAPTERS_FILES_PACKS_H
#define OSIER_ADAPTERS_FILES_PACKS_H

#include "core/talk/pack.h"

/* Every installed pack, and those of the clinic's folder (NULL: none) in the place of an installed file of the same name: an
 * array of Pack that frees them, in the order of their file names. Adds a line for every fault to messages; a pack with a fault
 * is left out, and so is, without a line, an installed one that has no `reading:` yet. A pack's file carries its language's
 * name: en.yaml holds "en". */
GPtrArray *packs_load(const char *clinic_dir, GPtrArray *messages);

/* One file, whatever its name. NULL with a line for every fault in messages. Freed with pack_free. */
Pack *pack_file_read(const char *path, GPtrArray *messages);

/* The pack of a language, or NULL; lent. */
const Pack *packs_find(const GPtrArray *packs, const char *language);

#endif
