/* SPDX-License-Identifier: Apache-2.0 */
#include "adapters/files/text.h"

#include <errno.h>
#include <fcntl.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "adapters/files/complaint.h"

static void complain(GPtrArray *messages, const char *path, const char *why)
{
    complaint_add(messages, path, 1, 1, NULL, "%s", why);
}

static void complain_place(GPtrArray *messages, const char *path, const char *text, const char *at)
{
    int line = 1, column = 1;

    for (const char *c = text; c < at; c++) {
        column = *c == '\n' ? 1 : column + ((*c & 0xC0) != 0x80);
        line += *c == '\n';
    }
    g_autofree char *byte = g_strdup_printf("0x%02X", (unsigned char)*at);
    complaint_add(messages, path, line, column, byte, "%s",
                  *at == '\0' ? "a NUL byte is no text" : "is not valid UTF-8");
}

/* Reads up to room bytes; -1 with errno set on a failure. */
static ssize_t read_all(int fd, char *into, size_t room)
{
    size_t got = 0;

    while (got < room) {
        ssize_t n = read(fd, into + got, room - got);
        if (n < 0 && errno == EINTR) continue;
        if (n < 0) return -1;
        if (n == 0) break;
        got += (size_t)n;
    }
    return (ssize_t)got;
}

char *text_load(const char *path, size_t bytes_max, size_t *length, GPtrArray *messages)
{
    struct stat about;
    const char *bad = NULL;
    /* Not blocking, so that a pipe in the folder cannot hold the start up. */
    int fd = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK);

    if (fd < 0) {
        complain(messages, path, g_strerror(errno));
        return NULL;
    }
    if (fstat(fd, &about) != 0 || !S_ISREG(about.st_mode)) {
        complain(messages, path, "is not a regular file");
        close(fd);
        return NULL;
    }
    g_autofree char *text = g_malloc(bytes_max + 2);
    ssize_t got = read_all(fd, text, bytes_max + 1);
    int failure = errno;
    close(fd);
    if (got < 0) {
        complain(messages, path, g_strerror(failure));
        return NULL;
    }
    if ((size_t)got > bytes_max) {
        g_autofree char *why = g_strdup_printf("is larger than %zu kB", bytes_max / 1024);
        complain(messages, path, why);
        return NULL;
    }
    text[got] = '\0';
    if (!g_utf8_validate(text, got, &bad)) {
        complain_place(messages, path, text, bad);
        return NULL;
    }
    if (length != NULL) *length = (size_t)got;
    return g_steal_pointer(&text);
}

static int by_name(const void *a, const void *b)
{
    return strcmp(*(char *const *)a, *(char *const *)b);
}

GPtrArray *text_list(const char *folder, const char *suffix)
{
    GPtrArray *paths = g_ptr_array_new_with_free_func(g_free);
    g_autoptr(GDir) dir = g_dir_open(folder, 0, NULL);
    const char *name;

    while (dir != NULL && (name = g_dir_read_name(dir)) != NULL)
        if (name[0] != '.' && g_str_has_suffix(name, suffix))
            g_ptr_array_add(paths, g_build_filename(folder, name, NULL));
    g_ptr_array_sort(paths, by_name);
    return paths;
}
