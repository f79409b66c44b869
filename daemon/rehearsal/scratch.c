/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/rehearsal/scratch.h"

#include <arpa/inet.h>
#include <gio/gio.h>
#include <glib/gstdio.h>
#include <sys/socket.h>
#include <unistd.h>

/* A bound socket; its port is not given out again as long as it is open. */
static int bind_any(int *port)
{
    struct sockaddr_in address = {.sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    socklen_t length = sizeof address;
    int fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);

    if (fd < 0) return -1;
    if (bind(fd, (struct sockaddr *)&address, sizeof address) == 0 &&
        getsockname(fd, (struct sockaddr *)&address, &length) == 0) {
        *port = ntohs(address.sin_port);
        return fd;
    }
    close(fd);
    return -1;
}

bool scratch_free_ports(int *one, int *other)
{
    int first = bind_any(one);
    int second = bind_any(other);

    if (first >= 0) close(first);
    if (second >= 0) close(second);
    return first >= 0 && second >= 0;
}

bool scratch_move(const char *file, const char *folder, char **why)
{
    g_autofree char *name = g_path_get_basename(file);
    g_autofree char *path = g_build_filename(folder, name, NULL);
    g_autoptr(GFile) from = g_file_new_for_path(file);
    g_autoptr(GFile) to = g_file_new_for_path(path);
    g_autoptr(GError) error = NULL;

    if (g_file_move(from, to, G_FILE_COPY_OVERWRITE, NULL, NULL, NULL, &error)) return true;
    *why = g_strdup(error->message);
    return false;
}

void scratch_remove(const char *folder)
{
    g_autoptr(GDir) open = g_dir_open(folder, 0, NULL);
    const char *name;

    while (open != NULL && (name = g_dir_read_name(open)) != NULL) {
        g_autofree char *path = g_build_filename(folder, name, NULL);
        bool is_folder =
            g_file_test(path, G_FILE_TEST_IS_DIR) && !g_file_test(path, G_FILE_TEST_IS_SYMLINK);
        if (is_folder)
            scratch_remove(path);
        else
            g_unlink(path);
    }
    g_rmdir(folder);
}
