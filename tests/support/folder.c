/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/support/folder.h"

#include <glib/gstdio.h>
#include <sys/stat.h>
#include <unistd.h>

char *folder_new(void)
{
    char *path = g_dir_make_tmp("osier-test-XXXXXX", NULL);

    g_assert_nonnull(path);
    return path;
}

void folder_room(const char *folder, const char *name)
{
    g_autofree char *path = g_build_filename(folder, name, NULL);

    g_assert_cmpint(g_mkdir(path, 0700), ==, 0);
}

void folder_write(const char *folder, const char *name, const char *text, gssize length,
                  mode_t mode)
{
    g_autofree char *path = g_build_filename(folder, name, NULL);

    g_assert_true(g_file_set_contents(path, text, length, NULL));
    g_assert_cmpint(g_chmod(path, (int)mode), ==, 0);
}

static void clear(const char *path)
{
    g_autoptr(GDir) dir = g_dir_open(path, 0, NULL);
    const char *name;

    while (dir != NULL && (name = g_dir_read_name(dir)) != NULL) {
        g_autofree char *below = g_build_filename(path, name, NULL);
        if (!g_file_test(below, G_FILE_TEST_IS_SYMLINK) && g_file_test(below, G_FILE_TEST_IS_DIR))
            clear(below);
        else
            g_unlink(below);
    }
    g_rmdir(path);
}

void folder_remove(char *folder)
{
    clear(folder);
    g_free(folder);
}
