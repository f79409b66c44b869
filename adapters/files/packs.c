/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/files/packs.h"

#include "adapters/files/overlay.h"
#include "adapters/files/tree.h"

static void free_pack(void *pack)
{
    pack_free(pack);
}

/* A pack that comes with osier may still lack the half that reading needs: it is not offered yet. A
 * clinic that writes one of its own means it, and hears of what it lacks. */
static bool is_unfinished(const Tree *tree, const char *path, const char *clinic_dir)
{
    g_autofree char *own =
        clinic_dir != NULL ? g_build_filename(clinic_dir, "languages", NULL) : NULL;
    g_autofree char *folder = g_path_get_dirname(path);

    return json_is_object(tree_root(tree)) && json_object_get(tree_root(tree), "reading") == NULL &&
           g_strcmp0(own, folder) != 0;
}

static Pack *load(const char *path, const char *clinic_dir, GPtrArray *messages)
{
    g_autoptr(Tree) tree = tree_load(path, messages);
    g_autofree char *expected = overlay_key(path);

    if (tree == NULL || is_unfinished(tree, path, clinic_dir)) return NULL;
    g_autoptr(Faults) faults = tree_faults_new(tree);
    g_autoptr(Pack) pack = pack_read(tree_root(tree), faults);
    if (pack != NULL && g_strcmp0(pack_language(pack), expected) != 0)
        fault_add(faults, "/language", pack_language(pack),
                  "is not the name of its file, which says %s", expected);
    tree_faults(tree, faults, messages);
    return faults->items->len == 0 ? g_steal_pointer(&pack) : NULL;
}

GPtrArray *packs_load(const char *clinic_dir, GPtrArray *messages)
{
    g_autoptr(GPtrArray) paths = overlay_list("languages", clinic_dir, messages);
    GPtrArray *packs = g_ptr_array_new_with_free_func(free_pack);

    for (guint i = 0; i < paths->len; i++) {
        Pack *pack = load(paths->pdata[i], clinic_dir, messages);
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
