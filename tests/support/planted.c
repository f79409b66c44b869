/* SPDX-License-Identifier: Apache-2.0 */
#define _GNU_SOURCE /* memmem */
#include "tests/support/planted.h"

#include <glib/gstdio.h>
#include <string.h>

static gboolean holds(const GString *file, const char *bytes, gsize length)
{
    return length > 0 && memmem(file->str, file->len, bytes, length) != NULL;
}

/* The word's base64 when so many bytes of a group of three come before it; the letters that depend on its neighbours are
 * left out. */
static gboolean holds_base64(const GString *file, const char *word, int before)
{
    GString *padded = g_string_new(NULL);

    for (int i = 0; i < before; i++)
        g_string_append_c(padded, 'x');
    g_string_append(padded, word);
    g_autofree char *all = g_base64_encode((const guchar *)padded->str, padded->len);
    gsize from = before == 0 ? 0 : before == 1 ? 2 : 3, to = padded->len / 3 * 4;
    gboolean found = to > from + 4 && holds(file, all + from, to - from);
    g_string_free(padded, TRUE);
    return found;
}

static gboolean holds_utf16(const GString *file, const char *word, const char *charset)
{
    gsize length = 0;
    g_autofree char *wide = g_convert(word, -1, charset, "UTF-8", NULL, &length, NULL);

    return wide != NULL && holds(file, wide, length);
}

static const char *manner(const GString *file, const char *word)
{
    if (holds(file, word, strlen(word))) return "as it stands";
    for (int before = 0; before < 3; before++)
        if (holds_base64(file, word, before)) return "in base64";
    if (holds_utf16(file, word, "UTF-16LE")) return "in UTF-16LE";
    if (holds_utf16(file, word, "UTF-16BE")) return "in UTF-16BE";
    return NULL;
}

static char *find_in_file(const char *path, const char *const *words)
{
    g_autofree char *bytes = NULL;
    gsize length = 0;

    if (!g_file_get_contents(path, &bytes, &length, NULL)) return NULL;
    GString file = {.str = bytes, .len = length};
    for (int i = 0; words[i] != NULL; i++) {
        const char *how = manner(&file, words[i]);
        if (how != NULL) return g_strdup_printf("%s: \"%s\" %s", path, words[i], how);
    }
    return NULL;
}

char *planted_find(const char *folder, const char *const *words)
{
    GDir *dir = g_dir_open(folder, 0, NULL);
    const char *name;
    char *found = NULL;

    while (found == NULL && dir != NULL && (name = g_dir_read_name(dir)) != NULL) {
        g_autofree char *path = g_build_filename(folder, name, NULL);
        if (g_file_test(path, G_FILE_TEST_IS_SYMLINK)) continue;
        found = g_file_test(path, G_FILE_TEST_IS_DIR) ? planted_find(path, words)
                                                      : find_in_file(path, words);
    }
    if (dir != NULL) g_dir_close(dir);
    return found;
}
