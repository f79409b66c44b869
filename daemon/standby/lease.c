/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/standby/lease.h"

bool lease_note(Lease *lease, SchemaLook seen, int64_t now_ms)
{
    if (seen != SCHEMA_FREE)
        lease->free_since_ms = LEASE_NOT_FREE;
    else if (lease->free_since_ms == LEASE_NOT_FREE)
        lease->free_since_ms = now_ms;
    return seen == SCHEMA_FREE && now_ms - lease->free_since_ms >= lease->length_ms;
}
