/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/keep/copies.h"

#include <glib/gstdio.h>
#include <string.h>

#include "core/calendar/date.h"

char *copies_name(int64_t at_ms)
{
    g_autofree char *instant = instant_format(at_ms);
    GString *name = g_string_new("osier-");

    for (const char *p = instant; *p != '\0'; p++)
        if (*p != '-' && *p != ':') g_string_append_c(name, *p);
    g_string_append(name, ".db");
    return g_string_free(name, FALSE);
}

static bool is_plain(const char *name)
{
    return g_str_has_suffix(name, "Z.db");
}

static bool is_copy(const char *name)
{
    return g_str_has_prefix(name, "osier-") &&
           (is_plain(name) || g_str_has_suffix(name, "Z.sealed"));
}

static int by_name(gconstpointer a, gconstpointer b)
{
    return strcmp(*(const char *const *)a, *(const char *const *)b);
}

GPtrArray *copies_all(const char *folder)
{
    GPtrArray *names = g_ptr_array_new_with_free_func(g_free);
    GDir *dir = g_dir_open(folder, 0, NULL);
    const char *name;

    while (dir != NULL && (name = g_dir_read_name(dir)) != NULL)
        if (is_copy(name)) g_ptr_array_add(names, g_strdup(name));
    if (dir != NULL) g_dir_close(dir);
    g_ptr_array_sort(names, by_name);
    return names;
}

GPtrArray *copies_plain(const char *folder)
{
    GPtrArray *names = copies_all(folder);

    for (guint i = names->len; i > 0; i--)
        if (!is_plain(names->pdata[i - 1])) g_ptr_array_remove_index(names, i - 1);
    return names;
}

static void drop(const char *folder, const char *name)
{
    g_autofree char *path = g_build_filename(folder, name, NULL);

    g_unlink(path);
}

void copies_drop_oldest(const char *folder, int most)
{
    g_autoptr(GPtrArray) names = copies_all(folder);

    for (guint i = 0; (int)i < (int)names->len - most; i++)
        drop(folder, names->pdata[i]);
}

void copies_drop(const char *folder, const GPtrArray *names)
{
    for (guint i = 0; i < names->len; i++)
        drop(folder, names->pdata[i]);
}
