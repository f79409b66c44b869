/* SPDX-License-Identifier: Apache-2.0 */
/* What the making, the looking over and the taking of a snapshot have in common. Not for other rooms. */
#ifndef OSIER_ADAPTERS_STORE_SNAPSHOT_PART_H
#define OSIER_ADAPTERS_STORE_SNAPSHOT_PART_H

#include "adapters/store/snapshot.h"
#include "adapters/store/snapshot_file.h"

/* Of words that were erased and ids that became one, more text is not kept in memory: no clinic has it. */
#define SNAPSHOT_HEARD_MAX (16 * 1024 * 1024)

/* Is the event one that the taker has to hear of? */
bool snapshot_is_heard(const char *kind);

/* An event as it lies in cells, lent by them. False where salt or hashes have a wrong length. */
bool snapshot_event(const Cell *cells, Event *event);

/* The first frame. */
void snapshot_pack_head(GByteArray *head, const SnapshotLook *look);
/* NULL and *why where it is none that can be taken here. */
SnapshotLook *snapshot_unpack_head(const GByteArray *head, const char **why);

#endif
