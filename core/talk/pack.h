/* SPDX-License-Identifier: Apache-2.0 */
/* A language pack: all that osier knows of one language, as data. `texts:` holds what osier writes, `programmes:`
 * what programmes say, `reading:` what it reads by, `share_letters:` what clients on one phone are told apart by. The file room brings the YAML as a JSON tree. */
#ifndef OSIER_CORE_TALK_PACK_H
#define OSIER_CORE_TALK_PACK_H

#include "core/clinic/fault.h"

typedef struct Pack Pack;

/* Reads a pack; adds every fault found. NULL where it has any. The tree may be freed afterwards. */
Pack *pack_read(json_t *tree, Faults *faults);
void pack_free(Pack *pack);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(Pack, pack_free)

/* The BCP 47 tag of the pack, "en". */
const char *pack_language(const Pack *pack);

/* The text of a key (core/talk/texts.h) with its placeholders as written, or NULL; lent. */
const char *pack_text(const Pack *pack, const char *key);

/* The letters from which each of several clients on one phone is given one (core/talk/share.h), "FGHJLM"; lent. */
const char *pack_share_letters(const Pack *pack);

/* What a programme says, in the pack's language where its `programmes:` has that text word for word, else the text as it is:
 * a programme that somebody edited is never printed as it was before. Lent by the pack or the caller. */
const char *pack_programme_text(const Pack *pack, const char *text);

/* What it reads by (core/talk/rules.h), lent. */
const struct Rules *pack_rules(const Pack *pack);

#endif
