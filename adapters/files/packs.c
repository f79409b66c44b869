/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/files/packs.h"

#include "adapters/files/overlay.h"
#include "adapters/files/tree.h"

static void free_pack(void *pack)
{
    pack_free(pack);
}

/* expected: its language, or NULL where any will do. */
static Pack *load(const char *path, const char *expected, GPtrArray *messages)
{
    g_autoptr(Tree) tree = tree_load(path, messages);

    if (tree == NULL) return NULL;
    g_autoptr(Faults) faults = tree_faults_new(tree);
    g_autoptr(Pack) pack = pack_read(tree_root(tree), faults);
    if (pack != NULL && expected != NULL && g_strcmp0(pack_language(pack), expected) != 0)
        fault_add(faults, "/language", pack_language(pack),
                  "is not the name of its file, which says %s", expected);
    tree_faults(tree, faults, messages);
    return faults->items->len == 0 ? g_steal_pointer(&pack) : NULL;
}

Pack *pack_file_read(const char *path, GPtrArray *messages)
{
    return load(path, NULL, messages);
}

/* The files of one load; threads take one after the other. */
typedef struct {
    const GPtrArray *paths;
    Pack **packs;         /* by path: NULL where it has a fault */
    GPtrArray **messages; /* by path: of char * */
    int next;             /* path, atomic */
} Load;

static void *load_on(void *data)
{
    Load *loading = data;

    for (;;) {
        guint i = (guint)g_atomic_int_add(&loading->next, 1);
        if (i >= loading->paths->len) return NULL;
        const char *path = loading->paths->pdata[i];
        g_autofree char *language = overlay_key(path);
        loading->messages[i] = g_ptr_array_new_with_free_func(g_free);
        loading->packs[i] = load(path, language, loading->messages[i]);
    }
}

/* A pack takes tens of milliseconds, nearly all of it computing: as many at once as there are processors. */
static void load_all(Load *loading)
{
    guint n = MIN(loading->paths->len, g_get_num_processors()), started = 0;
    g_autofree GThread **threads = g_new0(GThread *, n + 1);

    while (started + 1 < n) {
        threads[started] = g_thread_try_new("packs", load_on, loading, NULL);
        if (threads[started] == NULL) break;
        started++;
    }
    load_on(loading);
    for (guint i = 0; i < started; i++)
        g_thread_join(threads[i]);
}

GPtrArray *packs_load(const char *clinic_dir, GPtrArray *messages)
{
    g_autoptr(GPtrArray) paths = overlay_list("languages", clinic_dir, messages);
    GPtrArray *packs = g_ptr_array_new_with_free_func(free_pack);
    g_autofree Pack **each = g_new0(Pack *, paths->len + 1);
    g_autofree GPtrArray **told = g_new0(GPtrArray *, paths->len + 1);

    load_all(&(Load){paths, each, told, 0});
    for (guint i = 0; i < paths->len; i++) {
        g_ptr_array_extend_and_steal(messages, told[i]);
        if (each[i] != NULL) g_ptr_array_add(packs, each[i]);
    }
    return packs;
}

const Pack *packs_find(const GPtrArray *packs, const char *language)
{
    for (guint i = 0; i < packs->len; i++)
        if (g_strcmp0(pack_language(packs->pdata[i]), language) == 0) return packs->pdata[i];
    return NULL;
}
