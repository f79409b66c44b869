/* SPDX-License-Identifier: Apache-2.0 */
/* The hand-out of a made-up client of a made-up clinic, for tests of its words and of its pages. */
#ifndef OSIER_TESTS_SUPPORT_HANDOUTS_H
#define OSIER_TESTS_SUPPORT_HANDOUTS_H

#include "core/paper/handout.h"

typedef struct {
    Channel channel;
    const char *side;
    char sharer; /* the client's letter on a shared phone, or 0 */
    bool letter; /* the paper's size, else A4 */
    bool large;
} HandoutWish;

/* For Ada Nightingale, at 08:30 and 18:00 on five days a week; each movement in its first set-up, drawn for a leg of 85 cm and
 * 72 degrees. Freed with paper_free. */
Paper *handout_made(const Pack *pack, const Programme *programme, const Stage *stage,
                    const HandoutWish *wish);

#endif
