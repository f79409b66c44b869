/* SPDX-License-Identifier: Apache-2.0 */
/* Resident memory of the whole daemon with many clients whose plans run: 100,000, or as many as the first argument says. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "tests/bench/office.h"

static double memory_mb(const char *field)
{
    g_autofree char *status = NULL;
    const char *line;

    g_assert(g_file_get_contents("/proc/self/status", &status, NULL, NULL));
    line = strstr(status, field);
    return line != NULL ? atof(line + strlen(field)) / 1024 : -1;
}

int main(int argc, char **argv)
{
    int clients = argc > 1 ? atoi(argv[1]) : 100000;
    Office *office = office_new(0, "2026-01-02T12:00:00Z");
    double before = memory_mb("VmRSS:");

    office_fill_alike(office, clients);
    office_reopen(office, "2026-01-02T12:05:00Z");
    daemon_start(office->daemon);
    office_wait_quiet(office);
    g_autofree char *name = g_strdup_printf("memory, idle, %d clients", clients);
    printf("%-38s %10.1f MB (limit 100 MB); %.1f MB at most, %.1f MB with none\n", name,
           memory_mb("VmRSS:"), memory_mb("VmHWM:"), before);
    office_free(office);
    return 0;
}
