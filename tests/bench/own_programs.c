/* SPDX-License-Identifier: Apache-2.0 */
#include "tests/bench/own_programs.h"

#include <fcntl.h>
#include <jansson.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

/* The programs lie beside the folder of the benches. */
static char *program(const char *name)
{
    g_autofree char *self = g_file_read_link("/proc/self/exe", NULL);
    g_autofree char *benches = g_path_get_dirname(self);
    g_autofree char *build = g_path_get_dirname(benches);

    return g_build_filename(build, name, NULL);
}

/* What the service manager listens on. */
static int open_manager(const char *path)
{
    struct sockaddr_un address = {.sun_family = AF_UNIX};
    int fd = socket(AF_UNIX, SOCK_DGRAM | SOCK_CLOEXEC, 0);

    g_assert(g_strlcpy(address.sun_path, path, sizeof address.sun_path) < sizeof address.sun_path);
    unlink(path);
    g_assert(fd >= 0 && bind(fd, (struct sockaddr *)&address, sizeof address) == 0);
    return fd;
}

static void wait_ready(int fd)
{
    char told[1024];
    ssize_t length;

    do {
        length = recv(fd, told, sizeof told - 1, 0);
        g_assert(length > 0);
        told[length] = '\0';
    } while (strstr(told, "READY=1") == NULL);
}

static pid_t spawn_daemon(const char *folder, const char *clock, const char *notify)
{
    g_autofree char *path = program("osierd");
    pid_t child = fork();

    g_assert(child >= 0);
    if (child > 0) return child;
    prctl(PR_SET_PDEATHSIG, SIGTERM);
    int nowhere = open("/dev/null", O_RDWR | O_CLOEXEC);
    dup2(nowhere, 0);
    dup2(nowhere, 1);
    dup2(nowhere, 2);
    setenv("NOTIFY_SOCKET", notify, 1);
    execl(path, path, "--clinic", folder, "--clock", clock, "--speed", "1", (char *)NULL);
    _exit(1);
}

pid_t own_daemon_start(const char *folder, const char *clock, double *ready_ms)
{
    g_autofree char *notify = g_build_filename(folder, "manager", NULL);
    int fd = open_manager(notify);
    gint64 began_us = g_get_monotonic_time();
    pid_t daemon = spawn_daemon(folder, clock, notify);

    wait_ready(fd);
    *ready_ms = (double)(g_get_monotonic_time() - began_us) / 1000;
    close(fd);
    unlink(notify);
    return daemon;
}

void own_daemon_stop(pid_t daemon)
{
    int status;

    kill(daemon, SIGTERM);
    g_assert(waitpid(daemon, &status, 0) == daemon);
    if (!WIFEXITED(status) || WEXITSTATUS(status) != 0) g_error("osierd ended with %d", status);
}

double own_memory_mb(pid_t process, const char *field)
{
    g_autofree char *path = g_strdup_printf("/proc/%d/status", (int)process);
    g_autofree char *status = NULL;

    g_assert(g_file_get_contents(path, &status, NULL, NULL));
    const char *line = strstr(status, field);
    return line != NULL ? atof(line + strlen(field)) / 1024 : -1;
}

double own_cpu_ms(pid_t process)
{
    clockid_t clock;
    struct timespec taken;

    g_assert(clock_getcpuclockid(process, &clock) == 0 && clock_gettime(clock, &taken) == 0);
    return (double)taken.tv_sec * 1e3 + (double)taken.tv_nsec / 1e6;
}

bool own_check(const char *folder, double *took_s, gint64 *events)
{
    g_autofree char *path = program("osier");
    const char *argv[] = {path, "check", "--json", "--clinic", folder, NULL};
    g_autofree char *told = NULL;
    gint64 began_us = g_get_monotonic_time();

    g_assert(g_spawn_sync(NULL, (char **)argv, NULL, G_SPAWN_DEFAULT, NULL, NULL, &told, NULL, NULL,
                          NULL));
    *took_s = (double)(g_get_monotonic_time() - began_us) / G_USEC_PER_SEC;
    json_t *found = json_loads(told, 0, NULL);
    *events = json_integer_value(json_object_get(found, "events"));
    bool sound = json_is_true(json_object_get(found, "sound"));
    if (!sound) g_printerr("%s\n", told);
    json_decref(found);
    return sound;
}
