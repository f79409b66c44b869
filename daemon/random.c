/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/random.h"

#include <sodium.h>
#include <stdbool.h>
#include <string.h>

struct Random {
    bool seeded;
    uint64_t seed;
    GMutex lock;
    GHashTable *counts; /* purpose to number */
};

Random *random_live_new(void)
{
    g_assert(sodium_init() >= 0);
    return g_new0(Random, 1);
}

Random *random_seeded_new(uint64_t seed)
{
    Random *random = random_live_new();

    random->seeded = true;
    random->seed = seed;
    g_mutex_init(&random->lock);
    random->counts = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, g_free);
    return random;
}

void random_free(Random *random)
{
    if (random == NULL) return;
    if (random->seeded) {
        g_hash_table_unref(random->counts);
        g_mutex_clear(&random->lock);
    }
    g_free(random);
}

static uint64_t count(Random *random, const char *purpose)
{
    g_mutex_lock(&random->lock);
    uint64_t *number = g_hash_table_lookup(random->counts, purpose);
    if (number == NULL) {
        number = g_new0(uint64_t, 1);
        g_hash_table_insert(random->counts, g_strdup(purpose), number);
    }
    uint64_t value = (*number)++;
    g_mutex_unlock(&random->lock);
    return value;
}

void random_bytes(Random *random, const char *purpose, void *out, size_t length)
{
    if (!random->seeded) {
        randombytes_buf(out, length);
        return;
    }
    unsigned char hash[crypto_generichash_BYTES_MAX];
    g_autofree char *text = g_strdup_printf("%" G_GUINT64_FORMAT "/%s/%" G_GUINT64_FORMAT,
                                            random->seed, purpose, count(random, purpose));

    g_assert(length <= sizeof hash);
    crypto_generichash(hash, sizeof hash, (const unsigned char *)text, strlen(text), NULL, 0);
    memcpy(out, hash, length);
}

uint64_t random_number(Random *random, const char *purpose)
{
    uint64_t number;

    random_bytes(random, purpose, &number, sizeof number);
    return number;
}

uint64_t random_below(Random *random, const char *purpose, uint64_t below)
{
    g_assert(below > 0);
    return random_number(random, purpose) % below;
}
