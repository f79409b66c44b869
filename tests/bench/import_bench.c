/* SPDX-License-Identifier: Apache-2.0 */
/* A spreadsheet of 100,000 clients (or as many as the first argument says) comes in by the real programs: looked at, found to have
 * nobody twice, and written. The limit is 30 s for 100,000. Beside it the same file read and its lines counted. */
#include <glib/gstdio.h>
#include <signal.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "tests/support/folder.h"

enum { ROWS_LEAST = 1000, STARTS_IN_MS = 20000 };
#define LIMIT_S_A_ROW 0.0003

typedef struct {
    char *osier;
    char *osierd;
    char *clinic;
    char *file;
    GPid daemon;
} Bench;

/* build/bench/import -> build/NAME */
static char *program(const char *name)
{
    g_autofree char *self = g_file_read_link("/proc/self/exe", NULL);
    g_autofree char *room = g_path_get_dirname(self);
    g_autofree char *out = g_path_get_dirname(room);

    return g_build_filename(out, name, NULL);
}

static void write_sheet(const char *path, int rows)
{
    static const char *const NAMES[] = {"Ada", "Ben", "Cora", "Dov", "Edda", "Finn", "Greta"};
    FILE *file = fopen(path, "w");

    if (file == NULL) exit(1);
    fputs("Name,Mobile,DOB,Contact by,Consent,Consent by,Consent date,Usual pain,Notes\r\n", file);
    for (int i = 0; i < rows; i++)
        fprintf(
            file,
            "%s Quill%d,+1200%07d,%d,sms,signed form,R. Okafor,2026-02-01,%d,reads large print\r\n",
            NAMES[i % (int)G_N_ELEMENTS(NAMES)], i, i * 7, 1940 + i % 45, i % 4);
    if (fclose(file) != 0) exit(1);
}

static int run(const Bench *bench, const char *const *words)
{
    GPtrArray *argv = g_ptr_array_new();
    int status = 0;

    g_ptr_array_add(argv, bench->osier);
    for (; *words != NULL; words++)
        g_ptr_array_add(argv, (gpointer)*words);
    g_ptr_array_add(argv, NULL);
    bool ran = g_spawn_sync(NULL, (char **)argv->pdata, NULL, G_SPAWN_STDOUT_TO_DEV_NULL, NULL,
                            NULL, NULL, NULL, &status, NULL);
    g_ptr_array_unref(argv);
    return ran && WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

static void start(Bench *bench)
{
    char *argv[] = {bench->osierd, (char *)"--clinic", bench->clinic, NULL};
    g_autofree char *socket = g_build_filename(bench->clinic, "osierd.sock", NULL);
    const char *const init[] = {"init", bench->clinic, NULL};

    if (run(bench, init) != 0) exit(1);
    if (!g_spawn_async(NULL, argv, NULL,
                       G_SPAWN_DO_NOT_REAP_CHILD | G_SPAWN_STDOUT_TO_DEV_NULL |
                           G_SPAWN_STDERR_TO_DEV_NULL,
                       NULL, NULL, &bench->daemon, NULL))
        exit(1);
    for (int waited = 0; g_access(socket, F_OK) != 0; waited += 10) {
        if (waited > STARTS_IN_MS) exit(1);
        g_usleep(10000);
    }
}

static double daemon_memory_mb(const Bench *bench)
{
    g_autofree char *path = g_strdup_printf("/proc/%d/status", (int)bench->daemon);
    g_autofree char *status = NULL;
    const char *line;

    if (!g_file_get_contents(path, &status, NULL, NULL)) return -1;
    line = strstr(status, "VmHWM:");
    return line != NULL ? atof(line + strlen("VmHWM:")) / 1024 : -1;
}

static double seconds_since(gint64 begun_us)
{
    return (double)(g_get_monotonic_time() - begun_us) / 1e6;
}

static double count_lines(const char *path)
{
    gint64 begun_us = g_get_monotonic_time();
    FILE *file = fopen(path, "r");
    char *line = NULL;
    size_t room = 0;
    int lines = 0;

    while (file != NULL && getline(&line, &room, file) > 0)
        lines++;
    free(line);
    if (file == NULL || fclose(file) != 0 || lines == 0) exit(1);
    return seconds_since(begun_us);
}

int main(int argc, char **argv)
{
    int rows = argc > 1 ? MAX(atoi(argv[1]), ROWS_LEAST) : 100000;
    char *folder = folder_new();
    Bench bench = {.osier = program("osier"),
                   .osierd = program("osierd"),
                   .clinic = g_build_filename(folder, "clinic", NULL),
                   .file = g_build_filename(folder, "clients.csv", NULL)};
    const char *const look[] = {"records",  "import",     "--csv", bench.file,
                                "--clinic", bench.clinic, NULL};
    const char *const save[] = {"records", "import",   "--csv",      bench.file,
                                "--save",  "--clinic", bench.clinic, NULL};

    write_sheet(bench.file, rows);
    start(&bench);
    gint64 begun_us = g_get_monotonic_time();
    int code = run(&bench, look);
    double look_s = seconds_since(begun_us);
    begun_us = g_get_monotonic_time();
    if (code == 0) code = run(&bench, save);
    double save_s = seconds_since(begun_us), limit_s = LIMIT_S_A_ROW * rows;
    double memory_mb = daemon_memory_mb(&bench), bare_s = count_lines(bench.file);
    kill(bench.daemon, SIGTERM);
    waitpid(bench.daemon, NULL, 0);
    printf("%-36s %8.2f s; read only %.2f s\n", "rows of a spreadsheet looked at", look_s, bare_s);
    printf("%-36s %8.2f s (limit %g s); %d rows, osierd at most %.1f MB\n", "the same, and written",
           save_s, limit_s, rows, memory_mb);
    folder_remove(folder);
    g_free(bench.osier);
    g_free(bench.osierd);
    g_free(bench.clinic);
    g_free(bench.file);
    return code == 0 && save_s <= limit_s ? 0 : 1;
}
