/* SPDX-License-Identifier: Apache-2.0 */
#include "core/ledger/chain.h"

static void add_number(GByteArray *bytes, uint64_t number)
{
    uint64_t big_endian = GUINT64_TO_BE(number);

    g_byte_array_append(bytes, (const guint8 *)&big_endian, sizeof big_endian);
}

static void add_bytes(GByteArray *bytes, const void *data, size_t length)
{
    add_number(bytes, length);
    g_byte_array_append(bytes, data, (guint)length);
}

/* An absent text differs from an empty one by a length that no text has. */
static void add_text(GByteArray *bytes, const char *text)
{
    if (text == NULL)
        add_number(bytes, UINT64_MAX);
    else
        add_bytes(bytes, text, strlen(text));
}

static void hash(const GByteArray *bytes, uint8_t *digest)
{
    GChecksum *sum = g_checksum_new(G_CHECKSUM_SHA256);
    gsize length = DIGEST_BYTES;

    g_checksum_update(sum, bytes->data, bytes->len);
    g_checksum_get_digest(sum, digest, &length);
    g_checksum_free(sum);
}

static void hash_body(const Event *event, uint8_t *digest)
{
    g_autoptr(GByteArray) bytes = g_byte_array_sized_new(512);

    add_bytes(bytes, event->salt, SALT_BYTES);
    add_text(bytes, event->body);
    hash(bytes, digest);
}

static void hash_header(const Event *event, const uint8_t *previous, uint8_t *digest)
{
    static const uint8_t NONE[DIGEST_BYTES];
    g_autoptr(GByteArray) bytes = g_byte_array_sized_new(512);

    add_bytes(bytes, previous != NULL ? previous : NONE, DIGEST_BYTES);
    add_text(bytes, event->replica);
    add_number(bytes, (uint64_t)event->seq);
    add_number(bytes, (uint64_t)event->wall);
    add_number(bytes, (uint64_t)event->logical);
    add_text(bytes, event->kind);
    add_text(bytes, event->subject);
    add_text(bytes, event->author);
    add_text(bytes, event->base);
    add_bytes(bytes, event->body_hash, DIGEST_BYTES);
    hash(bytes, digest);
}

void chain_seal(Event *event, const uint8_t *previous)
{
    g_assert(event->body != NULL);
    hash_body(event, event->body_hash);
    hash_header(event, previous, event->digest);
}

bool chain_holds(const Event *event, const uint8_t *previous)
{
    uint8_t digest[DIGEST_BYTES];

    if (event->body != NULL) {
        hash_body(event, digest);
        if (memcmp(digest, event->body_hash, DIGEST_BYTES) != 0) return false;
    }
    hash_header(event, previous, digest);
    return memcmp(digest, event->digest, DIGEST_BYTES) == 0;
}
