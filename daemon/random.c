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
    GHashTable *kept;   /* the same at random_keep, or NULL */
};

static GHashTable *counts_new(void)
{
    return g_hash_table_new_full(g_str_hash, g_str_equal, g_free, g_free);
}

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
    random->counts = counts_new();
    return random;
}

void random_free(Random *random)
{
    if (random == NULL) return;
    if (random->seeded) {
        g_hash_table_unref(random->counts);
        g_clear_pointer(&random->kept, g_hash_table_unref);
        g_mutex_clear(&random->lock);
    }
    g_free(random);
}

static GHashTable *counts_copy(GHashTable *counts)
{
    GHashTable *copy = counts_new();
    GHashTableIter each;
    gpointer purpose, number;

    g_hash_table_iter_init(&each, counts);
    while (g_hash_table_iter_next(&each, &purpose, &number))
        g_hash_table_insert(copy, g_strdup(purpose), g_memdup2(number, sizeof(uint64_t)));
    return copy;
}

void random_keep(Random *random)
{
    g_assert(random->seeded);
    g_mutex_lock(&random->lock);
    g_clear_pointer(&random->kept, g_hash_table_unref);
    random->kept = counts_copy(random->counts);
    g_mutex_unlock(&random->lock);
}

void random_draw_again(Random *random)
{
    g_assert(random->seeded && random->kept != NULL);
    g_mutex_lock(&random->lock);
    g_hash_table_unref(random->counts);
    random->counts = counts_copy(random->kept);
    g_mutex_unlock(&random->lock);
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
