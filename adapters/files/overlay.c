/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/files/overlay.h"

#include <string.h>

#include "adapters/files/complaint.h"
#include "adapters/files/share.h"
#include "adapters/files/text.h"

static const char SUFFIX[] = ".yaml";

/* Adds the folder's files, in the place of those of the same name. */
static void lay_over(GTree *by_name, const char *folder)
{
    g_autoptr(GPtrArray) paths = text_list(folder, SUFFIX);

    for (guint i = 0; i < paths->len; i++)
        g_tree_replace(by_name, g_path_get_basename(paths->pdata[i]), g_strdup(paths->pdata[i]));
}

static int by_text(const void *a, const void *b, void *unused)
{
    (void)unused;
    return strcmp(a, b);
}

static gboolean collect(void *name, void *path, void *paths)
{
    (void)name;
    g_ptr_array_add(paths, g_strdup(path));
    return FALSE;
}

GPtrArray *overlay_list(const char *room, const char *clinic_dir, GPtrArray *messages)
{
    GPtrArray *paths = g_ptr_array_new_with_free_func(g_free);
    GTree *by_name = g_tree_new_full(by_text, NULL, g_free, g_free);
    g_autofree char *share = share_folder();
    g_autofree char *installed = g_build_filename(share, room, NULL);

    if (!g_file_test(installed, G_FILE_TEST_IS_DIR))
        complaint_add(messages, installed, 1, 1, NULL,
                      "osier's own files are missing here; install them, or name their folder in "
                      "OSIER_SHARE");
    lay_over(by_name, installed);
    if (clinic_dir != NULL) {
        g_autofree char *own = g_build_filename(clinic_dir, room, NULL);
        lay_over(by_name, own);
    }
    g_tree_foreach(by_name, collect, paths);
    g_tree_unref(by_name);
    return paths;
}

char *overlay_key(const char *path)
{
    char *name = g_path_get_basename(path);

    if (g_str_has_suffix(name, SUFFIX)) name[strlen(name) - strlen(SUFFIX)] = '\0';
    return name;
}
