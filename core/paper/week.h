/* SPDX-License-Identifier: Apache-2.0 */
/* The clinic's week on paper: the digest, to be laid on the table at the meeting. */
#ifndef OSIER_CORE_PAPER_WEEK_H
#define OSIER_CORE_PAPER_WEEK_H

#include "core/paper/sheet.h"
#include "core/watch/digest.h"

#define WEEK_PT 10.5

/* The sheet; picture (the clients side by side) is taken over, or NULL. */
Paper *week_sheet(const Pack *pack, const Digest *digest, Picture *picture, bool letter);

#endif
