/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/page/throttle.h"

#include <glib.h>

enum { FREE_TRIES = 3, NAMES_MOST = 1000, DOUBLINGS_MOST = 10 };

#define SECOND (INT64_C(1000))
#define WAIT_MOST (15 * 60 * SECOND)
#define FORGET_AFTER (60 * 60 * SECOND)

struct Throttle {
    GHashTable *names; /* name -> Tries */
};

typedef struct {
    int wrong;
    int64_t last_ms;
} Tries;

Throttle *throttle_new(void)
{
    Throttle *throttle = g_new0(Throttle, 1);

    throttle->names = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, g_free);
    return throttle;
}

void throttle_free(Throttle *throttle)
{
    if (throttle == NULL) return;
    g_hash_table_unref(throttle->names);
    g_free(throttle);
}

int64_t throttle_wait_ms(const Throttle *throttle, const char *name, int64_t now_ms)
{
    const Tries *tries = g_hash_table_lookup(throttle->names, name);

    if (tries == NULL || tries->wrong < FREE_TRIES || now_ms - tries->last_ms >= FORGET_AFTER)
        return 0;
    int doublings = MIN(tries->wrong - FREE_TRIES, DOUBLINGS_MOST);
    int64_t free_ms = tries->last_ms + MIN(SECOND << doublings, WAIT_MOST);
    return MAX(0, free_ms - now_ms);
}

static gboolean is_old(gpointer name, gpointer tries, gpointer now_ms)
{
    (void)name;
    return *(int64_t *)now_ms - ((Tries *)tries)->last_ms >= FORGET_AFTER;
}

/* Forgets what is old; where that is not enough, the name tried longest ago. */
static void make_room(Throttle *throttle, int64_t now_ms)
{
    GHashTableIter iter;
    gpointer name, found;
    const char *oldest = NULL;
    int64_t oldest_ms = INT64_MAX;

    if (g_hash_table_size(throttle->names) < NAMES_MOST) return;
    g_hash_table_foreach_remove(throttle->names, is_old, &now_ms);
    if (g_hash_table_size(throttle->names) < NAMES_MOST) return;
    g_hash_table_iter_init(&iter, throttle->names);
    while (g_hash_table_iter_next(&iter, &name, &found))
        if (((Tries *)found)->last_ms < oldest_ms)
            oldest_ms = ((Tries *)found)->last_ms, oldest = name;
    g_hash_table_remove(throttle->names, oldest);
}

void throttle_try(Throttle *throttle, const char *name, int64_t now_ms)
{
    Tries *tries = g_hash_table_lookup(throttle->names, name);

    if (tries == NULL) {
        make_room(throttle, now_ms);
        tries = g_new0(Tries, 1);
        g_hash_table_insert(throttle->names, g_strdup(name), tries);
    }
    if (now_ms - tries->last_ms >= FORGET_AFTER) tries->wrong = 0;
    tries->wrong++;
    tries->last_ms = now_ms;
}

void throttle_good(Throttle *throttle, const char *name)
{
    g_hash_table_remove(throttle->names, name);
}
