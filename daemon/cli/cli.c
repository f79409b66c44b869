/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/cli/cli.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

void cli_begin(void)
{
    for (int fd = STDIN_FILENO; fd <= STDERR_FILENO; fd++)
        if (fcntl(fd, F_GETFD) < 0)
            (void)!open("/dev/null", fd == STDIN_FILENO ? O_WRONLY : O_RDONLY);
}

int cli_end(int code)
{
    errno = 0;
    if ((fflush(stdout) == 0 && !ferror(stdout)) || code != EXIT_OK) return code;
    return cli_fault(EXIT_IO, "output", "standard output", "cannot be written%s%s",
                     errno != 0 ? ": " : "", errno != 0 ? g_strerror(errno) : "");
}

/* A fault is one line, whatever was typed or answered: control characters are shown, not obeyed. */
static char *in_one_line(const char *text)
{
    GString *line = g_string_new(NULL);

    for (const char *at = text; *at != '\0'; at++) {
        unsigned char c = (unsigned char)*at;
        if (c == '\n')
            g_string_append(line, "\\n");
        else if (c < 0x20 || c == 0x7f)
            g_string_append_printf(line, "\\x%02x", c);
        else
            g_string_append_c(line, *at);
    }
    return g_string_free(line, FALSE);
}

int cli_fault(int code, const char *what, const char *value, const char *why, ...)
{
    va_list list;

    va_start(list, why);
    g_autofree char *reason = g_strdup_vprintf(why, list);
    va_end(list);
    g_autofree char *told =
        g_strdup_printf("osier: %s: %s: %s", what, value != NULL ? value : "", reason);
    g_autofree char *line = in_one_line(told);
    fprintf(stderr, "%s\n", line);
    return code;
}

bool cli_options(const Command *command, const GOptionEntry *entries, int *argc, char ***argv)
{
    g_autoptr(GOptionContext) context = g_option_context_new(NULL);
    g_autoptr(GError) error = NULL;

    g_option_context_set_help_enabled(context, FALSE);
    g_option_context_add_main_entries(context, entries, NULL);
    if (g_option_context_parse(context, argc, argv, &error)) return true;
    cli_fault(EXIT_USE, command->name, error->message, "try: osier %s --help", command->name);
    return false;
}

void cli_json(json_t *document)
{
    json_dumpf(document, stdout,
               JSON_COMPACT | JSON_ENCODE_ANY | JSON_PRESERVE_ORDER |
                   JSON_REAL_PRECISION(15)); /* 76.4, not 76.400000000000006 */
    putchar('\n');
    json_decref(document);
}

int cli_write_file(const char *path, const char *text)
{
    int file = open(path, O_CREAT | O_EXCL | O_WRONLY | O_CLOEXEC | O_NOFOLLOW, 0600);
    size_t length = strlen(text);

    if (file < 0)
        return cli_fault(EXIT_CANNOT_MAKE, "--out", path, "cannot be made: %s", g_strerror(errno));
    bool kept = write(file, text, length) == (ssize_t)length && fsync(file) == 0;
    int error = errno;
    if (close(file) != 0 || !kept)
        return cli_fault(EXIT_IO, "--out", path, "cannot be written: %s", g_strerror(error));
    return EXIT_OK;
}
