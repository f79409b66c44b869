/* SPDX-License-Identifier: Apache-2.0 */
#include "core/ledger/chain.h"

#include "core/ledger/hash.h"

/* An absent text differs from an empty one by a length that no text has. */
static void add_text(Hash *hash, const char *text)
{
    if (text == NULL)
        hash_number(hash, UINT64_MAX);
    else
        hash_text(hash, text);
}

static void hash_body(const Event *event, uint8_t *digest)
{
    Hash hash;

    hash_begin(&hash);
    hash_piece(&hash, event->salt, SALT_BYTES);
    add_text(&hash, event->body);
    hash_end(&hash, digest);
}

static void hash_header(const Event *event, const uint8_t *previous, uint8_t *digest)
{
    static const uint8_t NONE[DIGEST_BYTES];
    Hash hash;

    hash_begin(&hash);
    hash_piece(&hash, previous != NULL ? previous : NONE, DIGEST_BYTES);
    add_text(&hash, event->replica);
    hash_number(&hash, (uint64_t)event->seq);
    hash_number(&hash, (uint64_t)event->wall);
    hash_number(&hash, (uint64_t)event->logical);
    add_text(&hash, event->kind);
    add_text(&hash, event->subject);
    add_text(&hash, event->author);
    add_text(&hash, event->base);
    hash_piece(&hash, event->body_hash, DIGEST_BYTES);
    hash_end(&hash, digest);
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
