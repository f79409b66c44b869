/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/sync/own.h"

#include <errno.h>
#include <fcntl.h>
#include <glib/gstdio.h>
#include <stdbool.h>
#include <string.h>
#include <unistd.h>

#include "adapters/peer/identity.h"
#include "adapters/seal/seal.h"

static char *path_of(const char *dir, const char *name)
{
    return g_build_filename(dir, "secrets", name, NULL);
}

static bool keep(const char *dir, const char *name, const char *text, char **why)
{
    g_autofree char *path = path_of(dir, name);
    int file = open(path, O_CREAT | O_EXCL | O_WRONLY | O_CLOEXEC | O_NOFOLLOW, 0600);
    size_t length = strlen(text);

    bool kept = file >= 0 && write(file, text, length) == (ssize_t)length && fsync(file) == 0;
    if (!kept) *why = g_strdup_printf("%s: cannot be made: %s", path, g_strerror(errno));
    if (file >= 0 && close(file) != 0) kept = false;
    return kept;
}

static bool sync_folder(const char *dir)
{
    g_autofree char *folder = g_build_filename(dir, "secrets", NULL);
    int file = open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);

    if (file < 0) return false;
    bool synced = fsync(file) == 0;
    close(file);
    return synced;
}

/* The certificate comes last: where it is there, the others are. */
static bool make(const char *dir, char **why)
{
    static const char *const NAMES[] = {"replica.key", "replica.open", "replica.seal"};
    g_autofree char *folder = g_build_filename(dir, "secrets", NULL);
    g_autofree char *certificate = NULL;
    g_autofree char *key = NULL;
    g_autofree char *seal = NULL;
    g_autofree char *open = NULL;

    if (g_mkdir_with_parents(folder, 0700) != 0) {
        *why = g_strdup_printf("%s: cannot be made: %s", folder, g_strerror(errno));
        return false;
    }
    for (size_t i = 0; i < G_N_ELEMENTS(NAMES); i++) {
        g_autofree char *left_over = path_of(dir, NAMES[i]);
        g_unlink(left_over);
    }
    if (!identity_make(&certificate, &key, why)) return false;
    seal_keys(&seal, &open);
    return keep(dir, "replica.key", key, why) && keep(dir, "replica.open", open, why) &&
           keep(dir, "replica.seal", seal, why) && keep(dir, "replica.crt", certificate, why) &&
           sync_folder(dir);
}

static char *read_own(const char *dir, const char *name, char **why)
{
    g_autofree char *path = path_of(dir, name);
    g_autoptr(GError) error = NULL;
    char *text = NULL;

    if (g_file_get_contents(path, &text, NULL, &error)) return text;
    if (*why == NULL) *why = g_strdup(error->message);
    return NULL;
}

bool own_made(const char *dir)
{
    g_autofree char *certificate = path_of(dir, "replica.crt");

    return g_file_test(certificate, G_FILE_TEST_EXISTS);
}

Own *own_load(const char *dir, char **why)
{
    g_autoptr(Own) own = g_new0(Own, 1);

    *why = NULL;
    if (!own_made(dir) && !make(dir, why)) return NULL;
    own->certificate = read_own(dir, "replica.crt", why);
    own->key = read_own(dir, "replica.key", why);
    own->seal = read_own(dir, "replica.seal", why);
    own->open = read_own(dir, "replica.open", why);
    own->pin = own->certificate != NULL ? identity_pin(own->certificate) : NULL;
    if (*why != NULL) return NULL;
    if (own->pin == NULL) {
        *why = g_strdup_printf("%s/secrets/replica.crt: is no certificate; restore it, or move the "
                               "four files replica.* away and pair anew",
                               dir);
        return NULL;
    }
    return g_steal_pointer(&own);
}

void own_sweep(const char *dir)
{
    g_autofree char *folder = g_build_filename(dir, "secrets", NULL);
    g_autoptr(GDir) names = g_dir_open(folder, 0, NULL);
    const char *name;

    while (names != NULL && (name = g_dir_read_name(names)) != NULL) {
        g_autofree char *path = g_build_filename(folder, name, NULL);
        if (g_str_has_prefix(name, OWN_DRAFT)) g_unlink(path);
    }
}

static void wipe(char *secret)
{
    if (secret != NULL) explicit_bzero(secret, strlen(secret));
    g_free(secret);
}

void own_free(Own *own)
{
    if (own == NULL) return;
    g_free(own->certificate);
    wipe(own->key);
    g_free(own->pin);
    g_free(own->seal);
    wipe(own->open);
    g_free(own);
}
