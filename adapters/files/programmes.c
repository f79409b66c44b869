/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/files/programmes.h"

#include "adapters/files/overlay.h"
#include "adapters/files/tree.h"

void programme_file_free(ProgrammeFile *file)
{
    if (file == NULL) return;
    programme_free(file->programme);
    g_free(file->text);
    g_free(file->path);
    g_free(file);
}

static void free_file(void *file)
{
    programme_file_free(file);
}

/* expected: its key, or NULL where any will do. */
static ProgrammeFile *load(const char *path, const char *expected, GPtrArray *messages)
{
    g_autoptr(Tree) tree = tree_load(path, messages);

    if (tree == NULL) return NULL;
    g_autoptr(Faults) faults = tree_faults_new(tree);
    g_autoptr(Programme) programme = programme_read(tree_root(tree), faults);
    if (programme != NULL && expected != NULL && g_strcmp0(programme->key, expected) != 0)
        fault_add(faults, "/key", programme->key, "is not the name of its file, which says %s",
                  expected);
    tree_faults(tree, faults, messages);
    if (programme == NULL || faults->items->len > 0) return NULL;
    ProgrammeFile *file = g_new0(ProgrammeFile, 1);
    file->programme = g_steal_pointer(&programme);
    file->text = g_strdup(tree_text(tree));
    file->path = g_strdup(path);
    return file;
}

ProgrammeFile *programme_file_read(const char *path, GPtrArray *messages)
{
    return load(path, NULL, messages);
}

GPtrArray *programmes_load(const char *clinic_dir, GPtrArray *messages)
{
    g_autoptr(GPtrArray) paths = overlay_list("programmes", clinic_dir, messages);
    GPtrArray *programmes = g_ptr_array_new_with_free_func(free_file);

    for (guint i = 0; i < paths->len; i++) {
        g_autofree char *key = overlay_key(paths->pdata[i]);
        ProgrammeFile *file = load(paths->pdata[i], key, messages);
        if (file != NULL) g_ptr_array_add(programmes, file);
    }
    return programmes;
}

const ProgrammeFile *programmes_find(const GPtrArray *programmes, const char *key)
{
    for (guint i = 0; i < programmes->len; i++) {
        const ProgrammeFile *file = programmes->pdata[i];
        if (g_strcmp0(file->programme->key, key) == 0) return file;
    }
    return NULL;
}
