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

GPtrArray *packs_load(const char *clinic_dir, GPtrArray *messages)
{
    g_autoptr(GPtrArray) paths = overlay_list("languages", clinic_dir, messages);
    GPtrArray *packs = g_ptr_array_new_with_free_func(free_pack);

    for (guint i = 0; i < paths->len; i++) {
        g_autofree char *language = overlay_key(paths->pdata[i]);
        Pack *pack = load(paths->pdata[i], language, messages);
        if (pack != NULL) g_ptr_array_add(packs, pack);
    }
    return packs;
}

const Pack *packs_find(const GPtrArray *packs, const char *language)
{
    for (guint i = 0; i < packs->len; i++)
        if (g_strcmp0(pack_language(packs->pdata[i]), language) == 0) return packs->pdata[i];
    return NULL;
}
