/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/desk/vault.h"

#include <fcntl.h>
#include <glib/gstdio.h>
#include <string.h>
#include <unistd.h>

#include "adapters/seal/seal.h"

#define KEYS_MOST 32

struct Vault {
    char *dir;
    Random *random;
    GPtrArray *keys; /* of char *: 64 hex digits; NULL: not read yet */
};

Vault *vault_new(const char *dir, Random *random)
{
    Vault *vault = g_new0(Vault, 1);

    vault->dir = g_strdup(dir);
    vault->random = random;
    return vault;
}

void vault_free(Vault *vault)
{
    if (vault == NULL) return;
    if (vault->keys != NULL) g_ptr_array_unref(vault->keys);
    g_free(vault->dir);
    g_free(vault);
}

static bool is_key(const char *text)
{
    return text != NULL && strlen(text) == 64 && strspn(text, "0123456789abcdef") == 64;
}

static char *keys_path(const Vault *vault)
{
    return g_build_filename(vault->dir, "secrets", "numbers.key", NULL);
}

static void read_keys(Vault *vault)
{
    g_autofree char *path = keys_path(vault);
    g_autofree char *text = NULL;

    if (vault->keys != NULL) return;
    vault->keys = g_ptr_array_new_with_free_func(g_free);
    if (!g_file_get_contents(path, &text, NULL, NULL)) return;
    g_auto(GStrv) lines = g_strsplit(text, "\n", -1);
    for (int i = 0; lines[i] != NULL && vault->keys->len < KEYS_MOST; i++)
        if (is_key(lines[i])) g_ptr_array_add(vault->keys, g_strdup(lines[i]));
}

static bool add_line(const char *path, const char *line)
{
    int file = open(path, O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC | O_NOFOLLOW, 0600);
    g_autofree char *text = g_strconcat(line, "\n", NULL);
    size_t length = strlen(text);

    if (file < 0) return false;
    bool kept = write(file, text, length) == (ssize_t)length && fsync(file) == 0;
    return close(file) == 0 && kept;
}

static bool add_key(Vault *vault, const char *key)
{
    g_autofree char *secrets = g_build_filename(vault->dir, "secrets", NULL);
    g_autofree char *path = keys_path(vault);

    if (vault->keys->len >= KEYS_MOST || g_mkdir_with_parents(secrets, 0700) != 0 ||
        !add_line(path, key))
        return false;
    g_ptr_array_add(vault->keys, g_strdup(key));
    return true;
}

static void make_key(Vault *vault)
{
    uint8_t bytes[32];
    GString *key = g_string_new(NULL);

    random_bytes(vault->random, "numbers", bytes, sizeof bytes);
    for (size_t i = 0; i < sizeof bytes; i++)
        g_string_append_printf(key, "%02x", bytes[i]);
    add_key(vault, key->str);
    g_string_free(key, TRUE);
}

bool vault_have_key(Vault *vault)
{
    read_keys(vault);
    if (vault->keys->len == 0) make_key(vault);
    return vault->keys->len > 0;
}

GPtrArray *vault_hashes(Vault *vault, const char *address, bool make)
{
    GPtrArray *hashes = g_ptr_array_new_with_free_func(g_free);

    read_keys(vault);
    if (make) vault_have_key(vault);
    for (guint i = 0; i < vault->keys->len; i++) {
        g_autofree char *name = seal_keyed_hash(vault->keys->pdata[i], "the key's own name");
        g_autofree char *hash = seal_keyed_hash(vault->keys->pdata[i], address);

        g_ptr_array_add(hashes, g_strdup_printf("%.8s %s", name, hash));
    }
    return hashes;
}

json_t *vault_keys(Vault *vault)
{
    json_t *list = json_array();

    read_keys(vault);
    for (guint i = 0; i < vault->keys->len; i++)
        json_array_append_new(list, json_string(vault->keys->pdata[i]));
    return list;
}

void vault_add_keys(Vault *vault, const json_t *keys)
{
    size_t i;
    json_t *item;

    read_keys(vault);
    json_array_foreach((json_t *)keys, i, item)
    {
        const char *key = json_string_value(item);

        if (is_key(key) && !g_ptr_array_find_with_equal_func(vault->keys, key, g_str_equal, NULL))
            add_key(vault, key);
    }
}

static char *erasures_path(const Vault *vault)
{
    return g_build_filename(vault->dir, "erased.jsonl", NULL);
}

bool vault_note_erasure(Vault *vault, json_t *erasure)
{
    g_autofree char *path = erasures_path(vault);
    char *line = json_dumps(erasure, JSON_COMPACT | JSON_SORT_KEYS);
    bool kept = add_line(path, line);

    free(line);
    json_decref(erasure);
    return kept;
}

json_t *vault_erasures(Vault *vault)
{
    g_autofree char *path = erasures_path(vault);
    g_autofree char *text = NULL;
    json_t *list = json_array();

    if (!g_file_get_contents(path, &text, NULL, NULL)) return list;
    g_auto(GStrv) lines = g_strsplit(text, "\n", -1);
    for (int i = 0; lines[i] != NULL; i++) {
        json_t *erasure = json_loads(lines[i], JSON_REJECT_DUPLICATES, NULL);

        if (json_is_object(erasure))
            json_array_append_new(list, erasure);
        else
            json_decref(erasure);
    }
    return list;
}

void vault_drop_spooled(Vault *vault, const char *message)
{
    g_autofree char *spool = g_build_filename(vault->dir, "spool", NULL);
    g_autofree char *end = g_strconcat("-", message, ".txt", NULL);
    GDir *dir = g_dir_open(spool, 0, NULL);
    const char *name;

    while (dir != NULL && (name = g_dir_read_name(dir)) != NULL) {
        g_autofree char *path = g_build_filename(spool, name, NULL);
        if (g_str_has_suffix(name, end)) g_unlink(path);
    }
    if (dir != NULL) g_dir_close(dir);
}
