/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/files/clinic_new.h"

#include <errno.h>
#include <fcntl.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "adapters/files/share.h"

static const char *const ROOMS[] = {"programmes", "languages", "secrets", "spool"};

static bool refuse(char **what, char **why, const char *path, const char *reason)
{
    *what = g_strdup(path);
    *why = g_strdup(reason);
    return false;
}

static bool is_free(const char *dir, const char *name, char **what, char **why)
{
    struct stat about;
    g_autofree char *path = g_build_filename(dir, name, NULL);

    if (lstat(path, &about) != 0) return true;
    return refuse(what, why, path, "is there already; osier overwrites nothing");
}

static bool make_folder(const char *path, char **what, char **why)
{
    if (mkdir(path, 0700) == 0) return true;
    return refuse(what, why, path, g_strerror(errno));
}

/* Writes a file that must not be there yet, and syncs it. */
static bool write_new(const char *path, const char *text, size_t length, char **what, char **why)
{
    int fd = open(path, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0600);
    size_t put = 0;

    while (fd >= 0 && put < length) {
        ssize_t n = write(fd, text + put, length - put);
        if (n < 0 && errno == EINTR) continue;
        if (n <= 0) break;
        put += (size_t)n;
    }
    bool fine = fd >= 0 && put == length && fsync(fd) == 0;
    int failure = errno;
    if (fd >= 0) close(fd);
    return fine || refuse(what, why, path, g_strerror(failure));
}

bool clinic_folder_make(const char *dir, char **what, char **why)
{
    g_autofree char *share = share_folder();
    g_autofree char *model = g_build_filename(share, "clinic.yaml", NULL);
    g_autofree char *settings = g_build_filename(dir, "clinic.yaml", NULL);
    g_autofree char *text = NULL;
    g_autoptr(GError) error = NULL;
    gsize length = 0;

    if (!g_file_get_contents(model, &text, &length, &error))
        return refuse(what, why, model, error->message);
    if (!is_free(dir, "clinic.yaml", what, why)) return false;
    for (size_t i = 0; i < G_N_ELEMENTS(ROOMS); i++)
        if (!is_free(dir, ROOMS[i], what, why)) return false;
    if (!g_file_test(dir, G_FILE_TEST_IS_DIR) && !make_folder(dir, what, why)) return false;
    for (size_t i = 0; i < G_N_ELEMENTS(ROOMS); i++) {
        g_autofree char *room = g_build_filename(dir, ROOMS[i], NULL);
        if (!make_folder(room, what, why)) return false;
    }
    return write_new(settings, text, length, what, why);
}
