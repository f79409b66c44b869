/* SPDX-License-Identifier: Apache-2.0 */
/* What goes from one replica to another, over a line or on a stick: what it holds, and events that the other lacks. No I/O. */
#ifndef OSIER_ADAPTERS_PEER_PARCEL_H
#define OSIER_ADAPTERS_PEER_PARCEL_H

#include "core/ledger/vector.h"

/* No parcel is larger, packed; nor does it unfold to more than PARCEL_UNFOLDED_MAX, or hold more events. */
#define PARCEL_MAX (4 * 1024 * 1024)
#define PARCEL_UNFOLDED_MAX (16 * 1024 * 1024)
#define PARCEL_EVENTS_MAX 2000
/* No replica counts so far: such a number is a lie. */
#define PARCEL_SEQ_MAX (INT64_C(1) << 48)

typedef struct {
    char *replica;     /* who packed it: 16 hex digits */
    char *name;        /* what people call it, without control characters, or NULL */
    int64_t wall_ms;   /* its clock then, within the years 1970 to 9999 */
    bool wait;         /* a question that may be answered later, once there is something new */
    bool more;         /* there is more to be had than fitted in */
    GArray *vector;    /* of VectorEntry: what it held when the parcel was packed */
    GPtrArray *events; /* of Event, those of each replica in order */
    char *forked;      /* a replica's id: its chain here is not the one that was sent; or NULL */
    char *probe;       /* a question: marks along the chain of that replica, or NULL */
    int64_t probe_from, probe_to;
    GArray *marks; /* the answer: of VectorEntry, in order */
} Parcel;

Parcel *parcel_new(const char *replica, int64_t wall_ms);
void parcel_free(Parcel *parcel);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(Parcel, parcel_free)

/* As compressed bytes (zlib, RFC 1950). NULL where it would be larger than PARCEL_MAX. */
GBytes *parcel_pack(const Parcel *parcel);

/* NULL and *why (static text) where the bytes are none: cut, too large, of another sort, or with a part that cannot be. */
Parcel *parcel_unpack(GBytes *bytes, const char **why);

#endif
