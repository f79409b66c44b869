/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/files/secrets.h"

#include <errno.h>
#include <fcntl.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "adapters/files/complaint.h"
#include "core/clinic/template.h"

enum { SECRET_BYTES_MAX = 4096 };

struct Secrets {
    GHashTable *values; /* name -> text */
    GHashTable *unfit;  /* names of files that could not be used */
    bool closed;        /* the folder itself could not be used */
};

/* explicit_bzero is not optimised away before a free. */
static void wipe_and_free(void *text)
{
    if (text == NULL) return;
    explicit_bzero(text, strlen(text));
    g_free(text);
}

static void complain(GPtrArray *messages, const char *path, const char *value, const char *why)
{
    complaint_add(messages, path, 1, 1, value, "%s", why);
}

/* Modes and owner as they must be. root may own what osierd, started by it, reads. */
static bool is_tight(const char *path, const struct stat *about, mode_t wanted, GPtrArray *messages)
{
    guint before = messages->len;
    g_autofree char *mode = g_strdup_printf("mode %04o", (unsigned)(about->st_mode & 07777));
    g_autofree char *owner = g_strdup_printf("owner %u", (unsigned)about->st_uid);

    if ((about->st_mode & 077) != 0) {
        g_autofree char *why =
            g_strdup_printf("others can get at it; chmod %04o %s", (unsigned)wanted, path);
        complain(messages, path, mode, why);
    }
    if (about->st_uid != geteuid() && about->st_uid != 0)
        complain(messages, path, owner,
                 "belongs to another user; chown it to the user that runs osierd");
    return messages->len == before;
}

/* Fills text, which has room for one byte more than a secret may have, and a NUL. False after a
 * complaint. */
static bool read_text(int fd, const char *path, char *text, GPtrArray *messages)
{
    size_t got = 0;
    ssize_t n = 0;

    while (got <= SECRET_BYTES_MAX) {
        n = read(fd, text + got, SECRET_BYTES_MAX + 1 - got);
        if (n < 0 && errno == EINTR) continue;
        if (n <= 0) break;
        got += (size_t)n;
    }
    text[got] = '\0';
    if (n < 0)
        complain(messages, path, "", g_strerror(errno));
    else if (got > SECRET_BYTES_MAX)
        complain(messages, path, "", "is larger than 4 kB");
    else if (strlen(text) != got)
        complain(messages, path, "", "holds a NUL byte");
    else if (got == 0 || strcmp(text, "\n") == 0)
        complain(messages, path, "", "is empty; write the secret into it");
    else {
        if (text[got - 1] == '\n') text[got - 1] = '\0';
        return true;
    }
    return false;
}

/* Takes one file in. strict: modes and owner are judged; the service manager answers for its own
 * credentials. */
static void load_file(Secrets *secrets, int folder, const char *path, const char *name, bool strict,
                      GPtrArray *messages)
{
    guint before = messages->len;
    struct stat about;
    int fd = openat(folder, name, O_RDONLY | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK);

    if (fd < 0) {
        complain(messages, path, "",
                 errno == ELOOP ? "is a link; put the file itself here" : g_strerror(errno));
        g_hash_table_add(secrets->unfit, g_strdup(name));
        return;
    }
    char *text = g_malloc0(SECRET_BYTES_MAX + 2);
    if (fstat(fd, &about) != 0 || !S_ISREG(about.st_mode))
        complain(messages, path, "", "is not a regular file");
    else if ((!strict || is_tight(path, &about, 0600, messages)) &&
             read_text(fd, path, text, messages))
        g_hash_table_insert(secrets->values, g_strdup(name), g_strdup(text));
    if (messages->len > before) g_hash_table_add(secrets->unfit, g_strdup(name));
    close(fd);
    explicit_bzero(text, SECRET_BYTES_MAX + 2);
    g_free(text);
}

static void load_folder(Secrets *secrets, const char *path, bool strict, GPtrArray *messages)
{
    struct stat about;
    int folder = open(path, O_RDONLY | O_DIRECTORY | O_CLOEXEC);

    if (folder < 0) {
        if (errno == ENOENT) return;
        complain(messages, path, "", g_strerror(errno));
        secrets->closed = true;
        return;
    }
    bool tight = fstat(folder, &about) == 0 && (!strict || is_tight(path, &about, 0700, messages));
    secrets->closed = secrets->closed || !tight;
    g_autoptr(GDir) names = tight ? g_dir_open(path, 0, NULL) : NULL;
    const char *name;
    while (names != NULL && (name = g_dir_read_name(names)) != NULL) {
        g_autofree char *file = g_build_filename(path, name, NULL);
        if (secret_name_valid(name))
            load_file(secrets, folder, file, name, strict, messages);
        else if (strict && name[0] != '.')
            complain(messages, file, name, "a secret's name has only a-z, 0-9, dot and dash");
    }
    close(folder);
}

Secrets *secrets_load(const char *clinic_dir, GPtrArray *messages)
{
    Secrets *secrets = g_new0(Secrets, 1);
    g_autofree char *own = g_build_filename(clinic_dir, "secrets", NULL);
    const char *credentials = g_getenv("CREDENTIALS_DIRECTORY");

    secrets->values = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, wipe_and_free);
    secrets->unfit = g_hash_table_new_full(g_str_hash, g_str_equal, g_free, NULL);
    load_folder(secrets, own, true, messages);
    /* Later ones replace: the service manager's come first in rank. */
    if (credentials != NULL && *credentials != '\0')
        load_folder(secrets, credentials, false, messages);
    return secrets;
}

const char *secrets_get(const Secrets *secrets, const char *name)
{
    return g_hash_table_lookup(secrets->values, name);
}

bool secrets_is_unfit(const Secrets *secrets, const char *name)
{
    return secrets->closed || g_hash_table_contains(secrets->unfit, name);
}

void secrets_free(Secrets *secrets)
{
    if (secrets == NULL) return;
    g_hash_table_unref(secrets->values);
    g_hash_table_unref(secrets->unfit);
    g_free(secrets);
}
