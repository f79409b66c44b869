/* SPDX-License-Identifier: Apache-2.0 */
/* By nettle, which uses what the processor has for it: several times as fast as GLib's checksums, and each event is hashed
 * twice. */
#include "core/ledger/hash.h"

#include <glib.h>
#include <string.h>

G_STATIC_ASSERT(HASH_BYTES == SHA256_DIGEST_SIZE);

void hash_begin(Hash *hash)
{
    sha256_init(&hash->state);
}

void hash_number(Hash *hash, uint64_t number)
{
    uint64_t big_endian = GUINT64_TO_BE(number);

    sha256_update(&hash->state, sizeof big_endian, (const uint8_t *)&big_endian);
}

void hash_piece(Hash *hash, const void *data, size_t length)
{
    hash_number(hash, length);
    sha256_update(&hash->state, length, data);
}

void hash_text(Hash *hash, const char *text)
{
    hash_piece(hash, text, strlen(text));
}

void hash_end(Hash *hash, uint8_t digest[HASH_BYTES])
{
    sha256_digest(&hash->state, HASH_BYTES, digest);
}
