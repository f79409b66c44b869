/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/rehearsal/child.h"

#include <errno.h>
#include <fcntl.h>
#include <glib/gstdio.h>
#include <signal.h>
#include <stdio.h>
#include <unistd.h>

enum { PATIENCE_MS = 60 * 1000 };

struct Child {
    uv_process_t process;
    uv_timer_t patience;
    bool runs;
    int code;
    int open_handles;
    char *complaints; /* a file */
};

static void on_exit_of(uv_process_t *process, int64_t code, int signal_number)
{
    Child *child = process->data;

    child->runs = false;
    child->code = signal_number != 0 ? 128 + signal_number : (int)code;
}

/* "/usr/bin/osierd" of "/usr/bin/osier". */
static char *beside(void)
{
    g_autofree char *self = g_file_read_link("/proc/self/exe", NULL);
    g_autofree char *folder = g_path_get_dirname(self != NULL ? self : ".");

    return g_build_filename(folder, "osierd", NULL);
}

static int spawn(Child *child, uv_loop_t *loop, uv_process_options_t options)
{
    int fd = g_open(child->complaints, O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0600);
    uv_stdio_container_t streams[3] = {
        {.flags = UV_IGNORE}, {.flags = UV_IGNORE}, {.flags = UV_INHERIT_FD, .data.fd = fd}};

    options.stdio = streams;
    options.stdio_count = 3;
    int rc = fd >= 0 ? uv_spawn(loop, &child->process, &options) : uv_translate_sys_error(errno);
    if (fd >= 0) close(fd);
    return rc;
}

Child *child_start(uv_loop_t *loop, const char *dir, const char *clock, gint64 seed, char **why)
{
    Child *child = g_new0(Child, 1);
    g_autofree char *program = beside();
    g_autofree char *number = g_strdup_printf("%" G_GINT64_FORMAT, seed);
    const char *args[] = {program,  "--clinic", dir,     "--clock", clock,
                          "--seed", number,     "--log", "errors",  NULL};
    uv_process_options_t options = {.exit_cb = on_exit_of, .file = program, .args = (char **)args};

    child->complaints = g_build_filename(dir, "osierd.log", NULL);
    child->process.data = child;
    child->patience.data = child;
    child->open_handles = 2;
    uv_timer_init(loop, &child->patience);
    int rc = spawn(child, loop, options);
    child->runs = rc == 0;
    if (rc == 0) return child;
    *why = g_strdup_printf("%s: %s", program, uv_strerror(rc));
    child_free(child);
    return NULL;
}

void child_tell(Child *child)
{
    g_autofree char *said = NULL;

    if (g_file_get_contents(child->complaints, &said, NULL, NULL)) fputs(said, stderr);
}

bool child_runs(const Child *child)
{
    return child->runs;
}

int child_code(const Child *child)
{
    return child->code;
}

static void on_patience(uv_timer_t *timer)
{
    Child *child = timer->data;

    if (child->runs) uv_process_kill(&child->process, SIGKILL);
}

void child_stop(Child *child)
{
    if (!child->runs) return;
    uv_process_kill(&child->process, SIGTERM);
    uv_timer_start(&child->patience, on_patience, PATIENCE_MS, 0);
    while (child->runs)
        uv_run(child->patience.loop, UV_RUN_ONCE);
    uv_timer_stop(&child->patience);
}

static void on_closed(uv_handle_t *handle)
{
    Child *child = handle->data;

    if (--child->open_handles > 0) return;
    g_free(child->complaints);
    g_free(child);
}

void child_free(Child *child)
{
    if (child == NULL) return;
    uv_close((uv_handle_t *)&child->process, on_closed);
    uv_close((uv_handle_t *)&child->patience, on_closed);
}
