/* SPDX-License-Identifier: Apache-2.0 */
/* osierd and osier themselves, as processes on a clinic's folder whose store nobody has open. */
#ifndef OSIER_TESTS_BENCH_OWN_PROGRAMS_H
#define OSIER_TESTS_BENCH_OWN_PROGRAMS_H

#include <glib.h>
#include <stdbool.h>
#include <sys/types.h>

/* Starts osierd at a made-up instant, the clock running; returns once it has told the service manager that it is ready. *ready_ms
 * is how long that took. */
pid_t own_daemon_start(const char *folder, const char *clock, double *ready_ms);

/* Asks it to end, and waits for that. */
void own_daemon_stop(pid_t daemon);

/* A field of /proc/PID/status in MB: "VmRSS:", "VmHWM:". -1 where there is none. */
double own_memory_mb(pid_t process, const char *field);

/* What it has taken of the processor so far, threads that have ended too. */
double own_cpu_ms(pid_t process);

/* Runs osier check: how long it took, and how many events it looked at. False where it did not find them sound. */
bool own_check(const char *folder, double *took_s, gint64 *events);

#endif
