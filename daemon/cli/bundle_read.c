/* SPDX-License-Identifier: Apache-2.0 */
/* Nothing of a bundle is taken in before all of it was looked at, so it is read twice. */
#include "daemon/cli/bundle_read.h"

#include <stdint.h>
#include <string.h>

#include "adapters/peer/identity.h"
#include "adapters/peer/parcel.h"

#define SIGNATURE_MAX 1024

/* sum: what has been read so far, or NULL. */
static bool get(FILE *file, GChecksum *sum, void *bytes, size_t length)
{
    if (fread(bytes, 1, length, file) != length) return false;
    if (sum != NULL) g_checksum_update(sum, bytes, (gssize)length);
    return true;
}

/* The next parcel; NULL at the end, or with *torn where it is cut. */
static GBytes *get_part(FILE *file, GChecksum *sum, bool *torn)
{
    uint32_t big_endian;

    *torn = true;
    if (!get(file, sum, &big_endian, sizeof big_endian)) return NULL;
    size_t length = GUINT32_FROM_BE(big_endian);
    *torn = length > PARCEL_MAX;
    if (length == 0 || *torn) return NULL;
    g_autofree char *bytes = g_malloc(length);
    *torn = !get(file, sum, bytes, length);
    return *torn ? NULL : g_bytes_new_take(g_steal_pointer(&bytes), length);
}

/* "FROM TO": true where both are ids. */
static bool get_head(FILE *file, GChecksum *sum, char from[17], char to[17])
{
    char first[sizeof BUNDLE_FIRST_LINE] = "", line[35] = "";

    if (!get(file, sum, first, strlen(BUNDLE_FIRST_LINE)) || strcmp(first, BUNDLE_FIRST_LINE) != 0)
        return false;
    if (!get(file, sum, line, 34) || line[16] != ' ' || line[33] != '\n') return false;
    g_strlcpy(from, line, 17);
    g_strlcpy(to, line + 17, 17);
    return strspn(from, "0123456789abcdef") == 16 && strspn(to, "0123456789abcdef") == 16;
}

static const json_t *peer_of(const json_t *status, const char *replica)
{
    size_t i;
    json_t *peer;

    json_array_foreach(json_object_get(status, "peers"), i, peer)
    {
        if (g_strcmp0(json_string_value(json_object_get(peer, "replica")), replica) == 0 &&
            json_is_null(json_object_get(peer, "cut")))
            return peer;
    }
    return NULL;
}

const char *bundle_judge(FILE *file, const json_t *status, char from[17])
{
    g_autoptr(GChecksum) sum = g_checksum_new(G_CHECKSUM_SHA256);
    char to[17];
    bool torn = false;
    uint8_t digest[32];
    gsize digest_length = sizeof digest;
    unsigned char signature[SIGNATURE_MAX];

    if (!get_head(file, sum, from, to)) return "is no bundle of this version of osier";
    const json_t *peer = peer_of(status, from);
    if (g_strcmp0(json_string_value(json_object_get(status, "replica")), to) != 0)
        return "is for another replica";
    if (peer == NULL) return "is by a replica that this one is not paired with";
    for (GBytes *part; (part = get_part(file, sum, &torn)) != NULL;)
        g_bytes_unref(part);
    if (torn) return "is cut: have it made again";
    g_checksum_get_digest(sum, digest, &digest_length);
    size_t length = fread(signature, 1, sizeof signature, file);
    g_autoptr(GBytes) bytes = g_bytes_new(signature, length);
    const char *certificate = json_string_value(json_object_get(peer, "certificate"));
    return identity_signed(certificate, digest, bytes)
               ? NULL
               : "is not signed by the replica that it names";
}

void bundle_first(FILE *file)
{
    char from[17], to[17];

    rewind(file);
    get_head(file, NULL, from, to);
}

GBytes *bundle_next(FILE *file)
{
    bool torn;

    return get_part(file, NULL, &torn);
}
