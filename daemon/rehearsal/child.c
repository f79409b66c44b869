/* SPDX-License-Identifier: Apache-2.0 */
#include "daemon/rehearsal/child.h"

#include <signal.h>

enum { PATIENCE_MS = 60 * 1000 };

struct Child {
    uv_process_t process;
    uv_timer_t patience;
    bool runs;
    int code;
    int open_handles;
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

Child *child_start(uv_loop_t *loop, const char *dir, const char *clock, gint64 seed, char **why)
{
    Child *child = g_new0(Child, 1);
    g_autofree char *program = beside();
    g_autofree char *number = g_strdup_printf("%" G_GINT64_FORMAT, seed);
    const char *args[] = {program,  "--clinic", dir,     "--clock", clock,
                          "--seed", number,     "--log", "errors",  NULL};
    uv_stdio_container_t streams[3] = {
        {.flags = UV_IGNORE}, {.flags = UV_IGNORE}, {.flags = UV_INHERIT_FD, .data.fd = 2}};
    uv_process_options_t options = {.exit_cb = on_exit_of,
                                    .file = program,
                                    .args = (char **)args,
                                    .stdio = streams,
                                    .stdio_count = 3};

    child->process.data = child;
    child->patience.data = child;
    child->open_handles = 2;
    uv_timer_init(loop, &child->patience);
    int rc = uv_spawn(loop, &child->process, &options);
    child->runs = rc == 0;
    if (rc == 0) return child;
    *why = g_strdup_printf("%s: %s", program, uv_strerror(rc));
    child_free(child);
    return NULL;
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

    if (--child->open_handles == 0) g_free(child);
}

void child_free(Child *child)
{
    if (child == NULL) return;
    uv_close((uv_handle_t *)&child->process, on_closed);
    uv_close((uv_handle_t *)&child->patience, on_closed);
}
