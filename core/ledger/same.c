/* SPDX-License-Identifier: Apache-2.0 */
#include "core/ledger/same.h"

#include <string.h>

struct Same {
    GHashTable *one; /* id -> the least of its client's ids */
};

Same *same_new(void)
{
    Same *same = g_new0(Same, 1);

    same->one = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, g_free);
    return same;
}

void same_free(Same *same)
{
    if (same == NULL) return;
    g_hash_table_unref(same->one);
    g_free(same);
}

const char *same_one(const Same *same, const char *id)
{
    const char *one = g_hash_table_lookup(same->one, id);

    return one != NULL ? one : id;
}

static void keep(Same *same, const char *id, const char *one)
{
    g_hash_table_replace(same->one, g_strdup(id), g_strdup(one));
}

static int by_text(gconstpointer a, gconstpointer b)
{
    return strcmp(*(const char *const *)a, *(const char *const *)b);
}

GPtrArray *same_all(const Same *same, const char *id)
{
    const char *one = same_one(same, id);
    GPtrArray *all = g_ptr_array_new();
    GHashTableIter iter;
    gpointer member, its;

    g_hash_table_iter_init(&iter, same->one);
    while (g_hash_table_iter_next(&iter, &member, &its))
        if (strcmp(its, one) == 0) g_ptr_array_add(all, member);
    g_ptr_array_sort(all, by_text);
    return all;
}

bool same_knows(const Same *same, const char *id)
{
    return g_hash_table_contains(same->one, id);
}

static int by_client(gconstpointer a, gconstpointer b, gpointer same)
{
    const char *one = *(const char *const *)a, *other = *(const char *const *)b;
    int order = strcmp(same_one(same, one), same_one(same, other));

    return order != 0 ? order : strcmp(one, other);
}

GPtrArray *same_known(const Same *same)
{
    GPtrArray *known = g_ptr_array_new();
    GHashTableIter iter;
    gpointer id;

    g_hash_table_iter_init(&iter, same->one);
    while (g_hash_table_iter_next(&iter, &id, NULL))
        g_ptr_array_add(known, id);
    g_ptr_array_sort_with_data(known, by_client, (gpointer)same);
    return known;
}

void same_add(Same *same, const char *one, const char *other)
{
    g_autofree char *a = g_strdup(same_one(same, one));
    g_autofree char *b = g_strdup(same_one(same, other));
    const char *least = strcmp(a, b) < 0 ? a : b, *greatest = least == a ? b : a;

    if (strcmp(one, "clinic") == 0 || strcmp(other, "clinic") == 0) return;
    g_autoptr(GPtrArray) moved = same_all(same, greatest);
    for (guint i = 0; i < moved->len; i++) {
        g_autofree char *id = g_strdup(moved->pdata[i]);
        keep(same, id, least);
    }
    keep(same, one, least);
    keep(same, other, least);
    keep(same, least, least);
    keep(same, greatest, least);
}
