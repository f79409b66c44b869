/* SPDX-License-Identifier: Apache-2.0 */
/* Events as bytes, to carry from replica to replica: each field with its length before it, numbers in eight bytes, the most
 * significant first. */
#ifndef OSIER_CORE_LEDGER_PACK_H
#define OSIER_CORE_LEDGER_PACK_H

#include "core/ledger/event.h"

/* No part of an event is longer. */
#define PACK_BODY_MAX (1024 * 1024)

/* What is still to be read of some bytes; broken once something did not fit. */
typedef struct {
    const uint8_t *at;
    size_t left;
    size_t trees; /* bytes of bodies whose trees were kept */
    bool broken;
} Packed;

void pack_number(GByteArray *bytes, int64_t number);
void pack_raw(GByteArray *bytes, const void *data, size_t length);
/* Up to 4 GB; NULL is told from "". */
void pack_string(GByteArray *bytes, const char *text);
void pack_event(GByteArray *bytes, const Event *event);

int64_t unpack_number(Packed *packed);
bool unpack_raw(Packed *packed, void *data, size_t length);
/* A text of at most most bytes, valid UTF-8 without NUL (g_free), or NULL where it was NULL or does not fit. */
char *unpack_string(Packed *packed, size_t most);
/* An event whose parts are within bounds: see event_fault. NULL, with packed->broken, where it is not. */
Event *unpack_event(Packed *packed);

/* What is wrong with an event that came from elsewhere, in a few words, or NULL: ids and kinds of a wrong form, parts too
 * long, a body that is no JSON object. Its stamp may be any: see stamp_receive. */
const char *event_fault(const Event *event);

#endif
